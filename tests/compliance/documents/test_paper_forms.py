from __future__ import annotations

import io

import pypdf
import pytest

from brewlog.entries import BY_SLUG
from compliance.documents.paper_forms import CODES, PAPERS, blank_papers, collect_papers
from tests import factories
from tests.compliance.documents.papers import codes_of, ink_in_margins, pages_of, words_of
from tests.compliance.documents.story import PRINTED_AT


def url_of(code: str) -> str:
    return f"https://brew.example/find/?q={code}"


def collected(actor, papers=PAPERS):
    return collect_papers(papers, url_of=url_of, printed_by=actor, printed_at=PRINTED_AT)


def test_every_code_opens_an_entry_and_is_used_once():
    parts = [part for paper in PAPERS for part in paper.parts]
    assert len(CODES) == len(parts)
    assert {part.slug for part in parts} <= set(BY_SLUG)


def test_the_words_on_the_paper_are_those_on_the_entry(brewery, manager):
    receiving = next(p for p in collected(manager) if p.title == "Receiving form").parts[0]
    labels = {str(f.label) for f in BY_SLUG["receive"].form.base_fields.values()}
    assert {*receiving.once, *receiving.each} <= labels
    assert "Supplier's lot code" in receiving.each


def test_every_part_asks_who_did_it():
    assert all("done_by" in part.once + part.each for paper in PAPERS for part in paper.parts)


@pytest.mark.parametrize("size", ["a4", "letter"])
def test_a_batch_sheet_is_one_leaf_printed_on_both_sides(brewery, manager, size):
    assert len(pages_of(blank_papers(collected(manager, PAPERS[:1]), size))) == 2


@pytest.mark.parametrize("size", ["a4", "letter"])
def test_the_set_has_every_part_with_a_code_that_is_read_back(brewery, manager, size):
    pdf = blank_papers(collected(manager), size)
    words = words_of(pdf)
    for code, part in CODES.items():
        assert f"{code} · {part.title}" in words
    assert {code.text for code in codes_of(pdf, 203)} == {url_of(code) for code in CODES}
    assert ink_in_margins(pdf, 4) == 0
    sheet = pypdf.PdfReader(io.BytesIO(pdf))
    assert sheet.metadata.title == "Paper set: Blank form"
    assert len(sheet.outline) == len(CODES)


def test_a_round_has_twelve_vessels_to_a_sheet(brewery, manager):
    for number in range(14):
        vessel = factories.vessel(manager, f"Jar {number:02}")
        factories.batch(manager, vessel=vessel)
    factories.vessel(manager, "Kettle")
    rounds = [paper for paper in collected(manager) if paper.title == "Reading round"]
    assert [paper.parts[0].rows for paper in rounds] == [
        tuple(f"Jar {number:02}" for number in range(12)),
        ("Jar 12", "Jar 13", *[""] * 10),
    ]


def test_without_vessels_there_is_a_round_all_the_same(brewery, manager):
    [paper] = [paper for paper in collected(manager) if paper.title == "Reading round"]
    assert paper.parts[0].rows == ("",) * 12


def test_every_page_says_that_it_is_blank_and_when_it_was_printed(brewery, manager):
    for words in pages_of(blank_papers(collected(manager))):
        assert "state: blank form" in words
        assert "printed 2 May 2026" in words


def test_the_same_papers_give_the_same_bytes(brewery, manager):
    assert blank_papers(collected(manager)) == blank_papers(collected(manager))
