"""Names of files, and which paper a brewery prints on."""

from __future__ import annotations

import re

from brewlog.models import Brewery

# Countries that print on Letter (common practice).
_LETTER = {
    "us", "usa", "u.s.", "u.s.a.", "united states", "united states of america", "canada", "ca",
    "mexico", "méxico", "mx", "philippines", "chile", "colombia", "venezuela", "puerto rico",
}  # fmt: skip


def usual_paper(brewery: Brewery | None) -> str:
    """`letter` where the brewery's country prints on it, else `a4`."""
    country = brewery.country.strip().lower() if brewery else ""
    return "letter" if country in _LETTER else "a4"


def file_stem(code: str) -> str:
    """A lot code as part of a file's name: strokes, dots and the like become dashes."""
    return re.sub(r"[^\w+-]+", "-", code, flags=re.UNICODE).strip("-") or "lot"
