"""The order of names that are written on things."""

from __future__ import annotations

import re


def natural(name: str) -> list[tuple[int, str]]:
    """Jar 2 before Jar 10."""
    return [
        (int(part), "") if part.isdecimal() else (0, part.lower())
        for part in re.split(r"(\d+)", name)
    ]
