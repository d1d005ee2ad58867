"""Lines of text in the order and the forms they are written in: Arabic joined, Hebrew and
Arabic from right to left; and where a line of Chinese or Japanese may be broken.

The order is the Unicode bidirectional algorithm's (UAX #9, by python-bidi), the joined forms are
arabic-reshaper's. What is added here is where a name ends: words between others are set apart
(UAX #9, isolates), so that a date or a lot code beside them keeps its own order.
"""

from __future__ import annotations

import re
from functools import lru_cache

from arabic_reshaper import ArabicReshaper
from bidi import get_display

# Letters written from right to left: Hebrew to Arabic Extended-A, and the joined forms.
_RIGHT = "\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufeff"
_HAS_RIGHT = re.compile(f"[{_RIGHT}]")
_ARABIC = re.compile("[\u0600-\u06ff\u0750-\u077f]")
_STRONG_LEFT = re.compile(rf"[^\W\d_{_RIGHT}]")

_SET_APART_RIGHT, _SET_APART_LEFT, _END = "\u2067", "\u2066", "\u2069"
_MARKS = str.maketrans("", "", f"{_SET_APART_LEFT}{_SET_APART_RIGHT}{_END}")
_FACING = str.maketrans("()[]{}<>«»‹›", ")(][}{><»«›‹")

_WORD = rf"[{_RIGHT}]+(?:[-'’./&\"”][{_RIGHT}]+)*"
_BRACKETED = rf"\({_WORD}(?: +{_WORD})*\)"
# A code or a figure between such words: it has a digit, or is in capitals.
_CODE = rf"(?:(?=[^\s{_RIGHT}]*\d)[^\s,;:{_RIGHT}]+|[A-Z]{{2,8}})"
# Words from right to left, and the codes between them: one name, or one saying.
_NAME = re.compile(rf"{_WORD}(?: +(?:{_CODE} +)*(?:{_WORD}|{_BRACKETED}))*")
# Figures, codes and words in other letters, with their signs: `−5 °C`, `L-17 (raw)`.
_OTHER = rf"(?:(?<![^\s(])[-−+±#≤≥<>=])?[^\W{_RIGHT}](?:[^\s{_RIGHT}]*[^\W{_RIGHT}])?[%°‰]?"
_OTHERS = re.compile(rf"{_OTHER}(?: +(?:[&+/–—] +)?[(°%]?{_OTHER}\)?)*(?: ?%)?")

# Letters written without spaces: a line may be broken between any two of them, and between one
# and a word in other letters.
_UNSPACED = (
    "\u2e80-\u2fff\u3001-\u30ff\u31f0-\u31ff\u3400-\u9fff\uf900-\ufaff\uff01-\uff60"
    "\U00020000-\U0003ffff"
)
# What may not begin a line, as W3C's Requirements for Japanese Text Layout (3.1.7: closing
# brackets, full stops, commas, middle dots, marks of question, repetition and length, small kana)
# and for Chinese Text Layout (3.1.7, prohibition rules for line start and end) have it; and what
# may not end one (opening brackets and what stands before figures). Both lists from memory.
_NOT_FIRST = (
    "\u3001\u3002\uff0c\uff0e\uff1a\uff1b\uff01\uff1f\u30fb\u2025\u2026\u2019\u201d\uff09\uff3d\uff5d\u3015"
    "\u3009\u300b\u300d\u300f\u3011\u3019\u3017\u301f\uff60\u00bb\u30fc\u3005\u303b\u30fd\u30fe\u309d\u309e"
    "\u3041\u3043\u3045\u3047\u3049\u3063\u3083\u3085\u3087\u308e\u3095\u3096\u30a1\u30a3\u30a5\u30a7\u30a9"
    "\u30c3\u30e3\u30e5\u30e7\u30ee\u30f5\u30f6\u31f0-\u31ff\u301c\u30a0\u00b0\u2032\u2033\u2103\uff05\u2030"
    ",.;:!?)\\]}%"
)
_NOT_LAST = (
    "\u2018\u201c\uff08\uff3b\uff5b\u3014\u3008\u300a\u300c\u300e\u3010\u3018\u3016\u301d\uff5f\u00ab\uffe5\uff04"
    "\uffe1(\\[{"
)
_HAS_UNSPACED = re.compile(f"[{_UNSPACED}]")
UNSPACED_BREAK = re.compile(
    rf"(?:(?<=[{_UNSPACED}])(?=\S)|(?<=\S)(?=[{_UNSPACED}]))(?<![{_NOT_LAST}])(?![{_NOT_FIRST}])"
)

_reshaper = ArabicReshaper(
    configuration={
        "delete_harakat": False,
        "delete_tatweel": False,
        "use_unshaped_instead_of_isolated": True,
        "ARABIC LIGATURE ALLAH": False,
    }
)


def has_right(text: str) -> bool:
    """Whether any of it is written from right to left."""
    return _HAS_RIGHT.search(text) is not None


def has_unspaced(text: str) -> bool:
    """Whether any of it is written without spaces between words."""
    return _HAS_UNSPACED.search(text) is not None


def joined(text: str) -> str:
    """The text with Arabic letters in the forms they take beside each other."""
    return _reshaper.reshape(text) if _ARABIC.search(text) else text


def is_from_right(text: str) -> bool:
    """Whether the text as a whole is written from right to left: it begins so, and most of its
    letters are."""
    right = len(re.findall(_HAS_RIGHT, text))
    if not right:
        return False
    left = _STRONG_LEFT.search(text)
    begins = left is None or _HAS_RIGHT.search(text).start() < left.start()  # type: ignore[union-attr]
    return begins and right >= len(_STRONG_LEFT.findall(text))


@lru_cache(maxsize=4096)
def in_sight(line: str, from_right: bool) -> str:
    """One line's letters from left to right as they are seen.

    `from_right` is what `is_from_right` says of the whole text that the line is part of.
    """
    if not _HAS_RIGHT.search(line):
        return line
    shown = get_display(set_apart(line, from_right, _FACING), base_dir="R" if from_right else "L")
    return shown.translate(_MARKS)


def set_apart(line: str, from_right: bool, facing: dict[int, int] | None = None) -> str:
    """The line with marks around what keeps its own order. `facing` turns brackets round (UAX #9,
    L4), where neither the library nor who draws does."""
    if from_right:
        return _others_apart(line, facing or {})
    return _NAME.sub(lambda m: f"{_SET_APART_RIGHT}{_others_apart(m[0], facing or {})}{_END}", line)


# What stands for the marks in the text of a page: nothing unseen is copied from it.
_TAGS = {
    _SET_APART_LEFT: '<bdi dir="ltr">',
    _SET_APART_RIGHT: '<bdi dir="rtl">',
    _END: "</bdi>",
}


def tagged(escaped: str) -> str:
    """Escaped text as `set_apart` marks it, with the tags of a page for its marks."""
    for mark, tag in _TAGS.items():
        escaped = escaped.replace(mark, tag)
    return escaped


def _others_apart(words: str, facing: dict[int, int]) -> str:
    found, at = [], 0
    for other in _OTHERS.finditer(words):
        found += [words[at : other.start()].translate(facing), _SET_APART_LEFT, other[0], _END]
        at = other.end()
    return "".join((*found, words[at:].translate(facing)))
