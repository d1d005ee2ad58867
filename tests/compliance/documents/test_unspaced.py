"""Chinese and Japanese on paper: broken between letters, never before what closes."""

from __future__ import annotations

import pytest

from brewlog.fonts import REGULAR, use_fonts, width_of
from compliance.documents.page import BODY, CELL, paragraph

CHINESE = "\u7ea2\u8336\u5eb7\u666e\u8336\uff0c\u53d1\u9175\u5341\u4e8c\u5929\u3002"
JAPANESE = "\u300c\u7d05\u8336\u30b3\u30f3\u30d6\u30c1\u30e3\u300d\u3002"
CLOSING, OPENING = "\u3002\uff0c\u3001\u300d\uff09\u30e3\u30fc", "\u300c\uff08"


@pytest.fixture(autouse=True)
def _fonts():
    use_fonts()


def lines_of(words, width, style=CELL):
    made = paragraph(words, style)
    made.wrap(width, 1000)
    return ["".join(part.text for part in line.words) for line in made.blPara.lines]


@pytest.mark.parametrize("width", range(36, 100, 4))
@pytest.mark.parametrize("words", [CHINESE * 4, JAPANESE * 4, f"({CHINESE})L26061A,{JAPANESE}" * 3])
def test_no_line_begins_with_what_closes_or_ends_with_what_opens(words, width):
    lines = lines_of(words, width)

    assert "".join(lines) == words
    assert not [line for line in lines if line[0] in CLOSING]
    assert not [line for line in lines if line[-1] in OPENING]


@pytest.mark.parametrize("width", [40, 61, 100])
def test_no_line_is_wider_than_its_column(width):
    lines = lines_of(f"{CHINESE} L26061A {JAPANESE} tea " * 3, width)

    assert len(lines) > 3
    assert max(width_of(each.rstrip(), REGULAR, CELL.fontSize) for each in lines) <= width + 0.01


def test_words_in_other_letters_stay_whole_where_they_fit():
    lines = lines_of(f"{CHINESE}kombucha {CHINESE}L26061A", 60)

    assert [line for line in lines if "kombucha" in line]
    assert [line for line in lines if "L26061A" in line]


def test_line_breaks_that_were_typed_are_kept():
    assert lines_of(f"{CHINESE}\n{JAPANESE}", 500) == [CHINESE, JAPANESE]


def test_what_goes_on_over_the_page_says_the_same():
    made = paragraph(f"{CHINESE * 3} tea {CHINESE * 3}", BODY)
    made.wrap(100, 1000)

    above, below = made.split(100, 4 * BODY.leading)
    below.wrap(100, 1000)
    lines = [*above.blPara.lines, *below.blPara.lines]

    said = "".join(part.text for line in lines for part in line.words)
    assert said == f"{CHINESE * 3} tea {CHINESE * 3}"
