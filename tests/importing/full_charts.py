"""The full sheets of a run of batches side by side, and that it was fixed as usual."""

from __future__ import annotations

from tests.importing import small

_DAYS = range(1, 24)
_CODES = [f"V{day:02}" for day in _DAYS]


def sheets(who: dict[str, str]) -> small.Sheets:
    """A small batch a day in one jar, each with its pH after adding starter."""
    return {
        "Batches": [
            {
                "When": f"2026-04-{day:02} 09:00",
                "Recipe version": "Green tea base v1",
                "Vessel": "Jar 2",
                "Lot code": code,
            }
            for day, code in zip(_DAYS, _CODES, strict=True)
        ],
        "Starter added": [
            {
                "When": f"2026-04-{day:02} 09:30",
                "Batch": code,
                "Volume afterwards": "2 L",
                "Starter": "C2",
                "Amount of starter": "0.05 L",
            }
            for day, code in zip(_DAYS, _CODES, strict=True)
        ],
        "Readings": [
            {
                "When": f"2026-04-{day:02} 10:00",
                "Lot": code,
                "Measured": "pH",
                "Reading": f"4.{2 + day % 2}",
                "Stage": "after adding starter",
            }
            for day, code in zip(_DAYS, _CODES, strict=True)
        ],
        "Usual runs": [
            {
                "When": "2026-04-24",
                "Recipe": "Green tea base",
                "Value": "pH after adding starter",
                "From batch": _CODES[0],
                "To batch": _CODES[-1],
                "Only in vessel": "Jar 2",
                "Batches left out": "V03, V04",
                "What was found of those outside": "none is outside",
                **who,
            }
        ],
    }
