from __future__ import annotations

import io
import subprocess
import sys

import pypdf
import pytest

from brewlog.fonts import printable
from compliance.documents.page import (
    Column,
    Head,
    Pair,
    Row,
    pairs,
    paragraph,
    render,
    section,
    table,
    title_block,
)
from compliance.documents.to_write_on import signatures, to_sign
from tests.compliance.documents.papers import ink_in_margins, pages_of, words_of

HEAD = Head(
    brewery="Saltmarsh Ferments",
    address="",
    time_zone="Europe/Lisbon",
    title="Lot sheet",
    subject="Lot B26061A",
    state="draft - not released",
    printed_at="2026-05-02 09:30",
    printed_by="Ada Quill",
)
COLUMNS = [Column("When", 20), Column("What", 60), Column("Amount", 20, right=True)]
# µ ° ± ≤ → and letters of names from a dozen languages, Greek and Cyrillic among them.
LETTERS = "µ ° ± ≤ ≥ → × – … é ñ ł ą ę ś ż ő ű č ř ž ğ ş ț ă ø å ß œ Þ Ωμ Жя №"


def rows(count: int) -> list[Row]:
    return [Row((f"day {n}", f"entry number {n}", f"{n} mL")) for n in range(count)]


@pytest.mark.parametrize(("paper", "size"), [("a4", (595, 842)), ("letter", (612, 792))])
def test_page_has_the_size_of_its_paper(paper, size):
    page = pypdf.PdfReader(io.BytesIO(render(HEAD, [paragraph("one line")], paper))).pages[0]
    assert (round(page.mediabox.width), round(page.mediabox.height)) == size


def test_unknown_paper_is_refused():
    with pytest.raises(KeyError):
        render(HEAD, [paragraph("one line")], "foolscap")


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_every_page_names_lot_page_time_person_and_state(paper):
    pages = pages_of(render(HEAD, [table(COLUMNS, rows(200), "")], paper))
    assert len(pages) > 3
    for number, words in enumerate(pages, start=1):
        assert f"Lot B26061A, page {number} of {len(pages)}" in words
        assert "printed 2 May 2026 09:30 (Europe/Lisbon) by Ada Quill" in words
        assert "state: draft - not released" in words
        assert "Saltmarsh Ferments" in words


def test_table_repeats_its_heads_and_loses_no_row():
    pages = pages_of(render(HEAD, [table(COLUMNS, rows(200), "")]))
    assert all("When What Amount" in words for words in pages)
    everything = " ".join(pages)
    assert all(f"entry number {n} {n} mL" in everything for n in range(200))


def test_empty_table_says_so_in_words():
    assert "No readings recorded." in words_of(
        render(HEAD, [table(COLUMNS, [], "No readings recorded.")])
    )


def test_cell_longer_than_a_page_goes_on_over_the_next():
    essay = " ".join(f"word{n}" for n in range(4000))
    pdf = render(HEAD, [table(COLUMNS, [Row(("now", essay, "1 L"), below=[essay])], "")])
    pages = pages_of(pdf)
    assert len(pages) > 3
    assert " ".join(pages).count("word3999") == 2
    assert ink_in_margins(pdf, 4) == 0


def test_long_words_break_instead_of_running_out_of_the_page():
    endless = "W" * 400
    story = [
        *title_block(endless, [endless], "draft"),
        *pairs([Pair(endless, endless), Pair("b", endless[:250])]),
        table(COLUMNS, [Row((endless, endless, endless))], ""),
    ]
    assert ink_in_margins(render(HEAD, story), 10) < 2000
    head = Head(**{**HEAD.__dict__, "brewery": endless, "subject": endless, "state": endless})
    assert ink_in_margins(render(head, [paragraph("one line")]), 5) == 0


@pytest.mark.parametrize("letter", LETTERS.split())
def test_letters_of_names_and_measures_are_in_the_font(letter):
    assert printable(letter) == letter
    assert letter in words_of(render(HEAD, [paragraph(f"before {letter} after")]))


def test_a_letter_the_font_lacks_shows_as_a_box():
    assert printable("চা tea 🍵") == "☐☐ tea ☐"


def test_composed_and_combining_accents_print_the_same():
    assert printable("Cafe\u0301") == "Café"


def test_control_and_direction_marks_are_left_out():
    assert printable("a\u202eb\x07c\nd") == "abc\nd"


def test_markup_in_a_record_is_printed_and_not_obeyed():
    typed = '<b>bold</b> & "quoted" <img src="file:///etc/passwd"/>'
    words = words_of(render(HEAD, [paragraph(typed), table(COLUMNS, [Row((typed, "", ""))], "")]))
    assert words.count("<b>bold</b>") == 2


def test_signatures_leave_lines_for_each_meaning():
    words = words_of(render(HEAD, section("Signatures", signatures(("Made by", "Reviewed by")))))
    for part in ("Made by", "Reviewed by", "Name in print", "Signature", "Date and time"):
        assert part in words


def test_the_same_parts_give_the_same_bytes():
    def made() -> bytes:
        return render(HEAD, [*title_block("B1", ["x"], "draft"), table(COLUMNS, rows(50), "")])

    assert made() == made()


def test_bytes_do_not_depend_on_the_process():
    program = (
        "import hashlib\n"
        "from tests.compliance.documents.test_page import HEAD, COLUMNS, rows\n"
        "from compliance.documents.page import render, table\n"
        "print(hashlib.sha256(render(HEAD, [table(COLUMNS, rows(9), '')])).hexdigest())\n"
    )
    digests = {
        subprocess.run(
            [sys.executable, "-c", program],
            env={"PYTHONHASHSEED": seed, "PATH": "", "TZ": zone},
            check=True,
            capture_output=True,
            text=True,
        ).stdout
        for seed, zone in (("1", "UTC"), ("2", "Asia/Tokyo"))
    }
    assert len(digests) == 1


@pytest.mark.parametrize("count", range(30, 60, 2))
def test_lines_to_sign_stand_on_the_page_of_their_heading(count):
    story = [
        table(COLUMNS, rows(count), ""),
        *to_sign("To be signed", ("Made by", "Read by", "Released by")),
    ]
    *_, last = pages_of(render(HEAD, story))
    assert all(words in last for words in ("To be signed", "Made by", "Released by"))
