from __future__ import annotations

import json
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from brewlog.management.commands.trace import Command as TraceCommand
from brewlog.management.recalling import RecallCommand
from tests.trace.plants import Plant, hour

pytestmark = pytest.mark.django_db


@pytest.fixture
def plant(operator) -> Plant:
    return Plant(operator)


@pytest.fixture
def outbreak(plant):
    """S1 in B1 at hour 10; L1 drawn before, L2 after; both sent."""
    culture, batch = plant.culture(10_000_000, code="S1"), plant.batch(100_000_000, code="B1")
    before, after = plant.bottles(40, code="L1"), plant.bottles(50, code="L2")
    plant.use(batch, before, 40_000_000, hour(5))
    plant.use(culture, batch, 8_000_000, hour(10), added=8_000_000)
    plant.use(batch, after, 17_000_000, hour(20))
    plant.ship(before, 30, "Attic Café", hour(30))
    plant.ship(after, 12, "Bay Stores", hour(31))
    return culture


def run(command: str, *arguments: str) -> tuple[int, str, str]:
    out, err = StringIO(), StringIO()
    with pytest.raises(SystemExit) as stopped:
        call_command(command, *arguments, stdout=out, stderr=err)
    return stopped.value.code, out.getvalue(), err.getvalue()


def row(text: str, start: str) -> list[str]:
    """The cells of the table row that starts with a lot code."""
    (line,) = [line for line in text.splitlines() if line.startswith(f"│ {start} ")]
    return [cell.strip() for cell in line.strip("│").split("│")]


def test_trace_shows_each_lot_with_its_time_and_amount(outbreak):
    code, out, _ = run("trace", "s1")

    assert code == 0
    # 17 L of 68 L take a quarter of the 8 L: 2 L in 50 bottles.
    assert row(out, "L2") == [
        "L2", "bottling", "2026-03-01 00:00", "2", "2026-03-01 20:00", "2 L", "40 mL",
    ]  # fmt: skip
    assert row(out, "L1")[4:] == ["drawn before", "", ""]
    assert "L1 was drawn from B1 2026-03-01 05:00, before it came there 2026-03-01 10:00." in out
    assert row(out, "shipped") == ["shipped", "480 mL"]
    assert row(out, "in all") == ["in all", "10 L"]


def test_trace_backward_shows_what_went_in(outbreak):
    code, out, _ = run("trace", "L2", "--backward")

    assert code == 0
    assert row(out, "B1")[3:] == ["1", "17 L", "340 mL"]
    assert row(out, "S1")[3:] == ["2", "2 L", "40 mL"]
    assert row(run("trace", "L1", "--backward")[1], "S1")[3:] == ["2", "a trace", ""]


def test_trace_speaks_json(outbreak):
    code, out, _ = run("trace", "S1", "--json")

    assert code == 0
    answer = json.loads(out)
    codes = {each["facts"]["code"]: each["arrived"] for each in answer["scope"]["lots"]}
    assert codes["L2"] == {"at": "2026-03-01T20:00:00+00:00", "precision": "minute"}
    assert codes["L1"] is None
    assert answer["where_it_went"]["amount"] == 10_000_000
    assert answer["where_it_went"]["lot"]["unit"] == "µL"
    backward = json.loads(run("trace", "L2", "--backward", "--json")[1])
    assert [each["facts"]["code"] for each in backward["ancestry"]["lots"]] == ["L2", "B1", "S1"]


def test_since_narrows_what_is_marked_and_leaves_nothing_out(outbreak):
    out = run("trace", "B1", "--since", "2026-03-01 12:00")[1]

    assert row(out, "L1")[4] == "drawn before"
    assert row(out, "L2")[4] == "2026-03-01 20:00"
    with pytest.raises(CommandError) as refused:
        call_command("trace", "B1", "--since", "last week")
    assert refused.value.returncode == 2


@pytest.mark.parametrize("command", ["trace", "recall"])
def test_an_unknown_code_is_said_with_what_is_near(command, outbreak):
    code, out, err = run(command, "L3")

    assert (code, out) == (1, "")
    assert err.strip() == "No lot has the code L3. Near it: L2, L1."
    assert run(command, "nothing like it")[2].strip() == "No lot has the code nothing like it."


def test_recall_shows_bottles_and_customers(outbreak):
    code, out, _ = run("recall", "S1")

    assert code == 0
    assert row(out, "L2")[4:] == ["2026-03-01 20:00", "50", "12", "0", "", "38", ""]
    assert row(out, "L1")[4:7] == ["drawn before", "40", "30"]
    assert row(out, "2 lots")[5:] == ["90", "42", "0", "0", "48", "0"]
    assert row(out, "Bay Stores")[4:8] == ["L2", "12", "", "2026-03-02"]
    assert row(out, "Attic Café")[4] == "L1 (drawn before)"


def test_recall_speaks_json(outbreak):
    answer = json.loads(run("recall", "S1", "--json")[1])

    assert answer["totals"]["shipped"] == 42
    sent = {each["name"]: each["lines"][0]["quantity"] for each in answer["customers"]}
    assert sent == {"Attic Café": 30, "Bay Stores": 12}


@pytest.mark.parametrize("command", [TraceCommand(), RecallCommand()])
def test_a_missing_code_is_a_wrong_call(command, capsys):
    with pytest.raises(SystemExit) as stopped:
        command.run_from_argv(["manage.py", "trace"])

    assert stopped.value.code == 2
    assert "the following arguments are required: code" in capsys.readouterr().err
