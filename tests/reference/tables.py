"""The tables of outside values beside this file, one row as one dictionary.

Every row carries its source. Rows marked "computed" were worked out once from the published
formula and pin it; rows marked "published" or naming a library are independent of this code.
"""

from __future__ import annotations

import csv
from pathlib import Path


def rows(table: str) -> list[dict[str, str]]:
    """All rows of `<table>.csv`."""
    with (Path(__file__).parent / f"{table}.csv").open(encoding="utf-8", newline="") as file:
        found = list(csv.DictReader(file))
    assert found, f"{table}.csv holds no rows"
    return found
