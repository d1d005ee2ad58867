"""The demo's sheets themselves, without reading them in."""

from __future__ import annotations

import datetime as dt
import subprocess
import sys

from tests.demo.raw_sheets import FOLDER, lot, rows


def test_writing_the_sheets_again_gives_the_same_bytes(tmp_path):
    # -S leaves site-packages out: the script needs nothing but Python.
    script = [sys.executable, "-S", str(FOLDER / "write_sheets.py"), str(tmp_path)]
    subprocess.run(script, check=True, timeout=60)

    written = {path.name: path.read_bytes() for path in tmp_path.glob("*.csv")}
    there = {path.name: path.read_bytes() for path in FOLDER.glob("*.csv")}
    assert sorted(written) == sorted(there)
    assert [name for name in there if written[name] != there[name]] == []


def test_the_brewery_has_the_size_it_says():
    sizes = {
        name: len(rows(name))
        for name in ("Batches", "Bottling", "Shipments", "Customers", "Cultures", "Brews")
    }
    assert sizes == {
        "Batches": 71,
        "Bottling": 175,
        "Shipments": 568,
        "Customers": 43,
        "Cultures": 58,
        "Brews": 52,
    }


def test_nothing_on_the_sheets_is_later_than_their_last_day():
    days = [
        row["When"][:10]
        for path in FOLDER.glob("*.csv")
        for row in rows(path.stem)
        if row.get("When")
    ]
    assert min(days) >= "2026-02-12"
    assert max(days) == "2026-11-20"


def test_every_batch_but_the_slow_one_is_below_4_2_on_its_second_day():
    pitched = {lot(row["Batch"]): row["When"][:10] for row in rows("Starter added")}
    late = {
        lot(row["Lot"])
        for row in rows("Readings")
        if row["Measured"] == "pH"
        and lot(row["Lot"]) in pitched
        and float(row["Reading"]) >= 4.2
        and _days(pitched[lot(row["Lot"])], row["When"]) >= 2
    }
    assert late == {"B26299B"}


def test_the_slow_batch_was_above_4_2_on_day_nine_and_below_on_day_ten():
    begun = next(row["When"] for row in rows("Starter added") if row["Batch"] == "B26299B")
    by_day = {
        _days(begun, row["When"]): row["Reading"]
        for row in rows("Readings")
        if row["Lot"] == "B26299B" and row["Measured"] == "pH"
    }
    assert (by_day[7], by_day[9], by_day[10]) == ("4.31", "4.24", "4.17")


def test_the_cooler_was_warm_on_one_weekend_only():
    warm = {
        row["When"][:10]
        for row in rows("Readings")
        if row["Place"] == "Cooler" and _celsius(row["Reading"]) > 5
    }
    assert warm == {"2026-07-18", "2026-07-19"}


def test_one_laboratory_result_is_over_half_a_percent():
    results = {row["Lot"]: float(row["Result"]) for row in rows("Lab results")}
    assert len(results) == 10
    assert {code for code, alcohol in results.items() if alcohol > 0.5} == {"L26302E"}
    assert results["L26302E"] == 0.83


def _days(since: str, until: str) -> int:
    return (dt.date.fromisoformat(until[:10]) - dt.date.fromisoformat(since[:10])).days


def _celsius(text: str) -> float:
    number, unit = text.replace(",", ".").split()
    return (float(number) - 32) / 1.8 if unit == "°F" else float(number)
