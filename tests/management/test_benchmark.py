from __future__ import annotations

import json
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from rich.console import Console

from brewlog.management import measuring
from brewlog.management.commands import benchmark
from brewlog.models import Checkpoint
from tests.trace.plants import Plant, hour

pytestmark = pytest.mark.django_db


@pytest.fixture
def generated(db):
    call_command("generate_plant", batches=30, seed=3, stdout=StringIO())


def run(*arguments: str) -> tuple[int, str, str]:
    out, err = StringIO(), StringIO()
    with pytest.raises(SystemExit) as stopped:
        call_command("benchmark", *arguments, stdout=out, stderr=err)
    return stopped.value.code, out.getvalue(), err.getvalue()


def test_every_way_gives_the_same_answer_and_is_timed(generated):
    readings = Checkpoint.objects.count()

    code, out, _ = run("--json")

    assert code == 0
    timed = {each["question"]: set(each["medians"]) for each in json.loads(out)["measured"]}
    everything = {"brewlog", "SQL", "ORM walk", "networkx", "pandas"}
    assert timed == {
        "backward, deepest bottling lot": everything,
        "forward, late ingredient lot": everything,
        "forward, founding culture": everything,
        "forward, founding culture, per customer": everything,
        "on hand, every lot": everything - {"networkx"},
        "composition, deepest bottling lot": {"brewlog", "networkx"},
        "distinct labels drawn": {"brewlog"},
        "recall packet, culture of late (rows)": {"brewlog"},
        "recall packet, founding culture (rows)": {"brewlog"},
        "binder (pages)": {"brewlog"},
        "page: start (lines)": {"brewlog"},
        "page: find (lines)": {"brewlog"},
        "page: batch list (lines)": {"brewlog"},
        "page: bottling list (lines)": {"brewlog"},
        "page: newest batch (lines)": {"brewlog"},
        "page: newest bottling (lines)": {"brewlog"},
        "readings from a sheet, not kept (rows)": {"brewlog"},
    }
    assert Checkpoint.objects.count() == readings


def test_what_is_made_is_told_by_the_second_and_with_what_it_held():
    held = []

    def make() -> range:
        held.append(bytearray(30_000_000))
        return range(40)

    question = measuring.Question("papers", {"brewlog": make}, is_made=True, per_second=1)
    before = measuring.measure(question, ()).peak_mb
    after = measuring.measure(question, ())

    assert (after.size, after.targets) == (40, {"1 a second": True})
    assert after.peak_mb - before > 25
    assert 0 < after.processor_ms < 10_000


def test_the_table_says_what_was_aimed_at_and_whether_it_was_met():
    measured = measuring.Measured("which", 2, {"brewlog": 12.34}, [], {"under 10 ms": False})
    out = StringIO()

    benchmark.print_results(Console(file=out, width=160), {"lots": 2}, [measured])

    assert "12.3" in out.getvalue()
    assert "under 10 ms: NO" in out.getvalue()


def test_a_way_with_another_answer_is_named_not_timed_and_fails_the_run():
    question = measuring.Question("which", {"brewlog": lambda: {1, 2}, "SQL": lambda: {1}})
    out = StringIO()

    measured = measuring.measure(question, ())
    benchmark.print_results(Console(file=out, width=120), {"lots": 2}, [measured])

    assert (measured.different, measured.medians) == (["SQL"], {})
    assert benchmark.exit_code([measured]) == 1
    assert "which: SQL gives another answer." in out.getvalue()


def test_a_library_that_is_missing_is_left_out():
    ways = {"brewlog": lambda: {1}, "networkx": lambda: {2}, "pandas": lambda: {1}}

    measured = measuring.measure(measuring.Question("which", ways), ("networkx",))

    assert set(measured.medians) == {"brewlog", "pandas"}
    assert measured.targets.keys() == {"ahead of pandas"}


def test_ratios_are_not_compared_where_something_was_added_after_a_draw(operator):
    plant = Plant(operator)
    culture, batch, bottles = plant.culture(10), plant.batch(100), plant.bottles(9)
    plant.use(plant.tea(5), batch, 5, hour(1))
    plant.use(culture, batch, 5, hour(1))
    plant.use(batch, bottles, 50, hour(2))
    asked = {question.name: set(question.ways) for question in measuring.questions()}
    assert asked["composition, deepest bottling lot"] == {"brewlog", "networkx"}

    plant.use(culture, batch, 5, hour(3), added=5)

    asked = {question.name: set(question.ways) for question in measuring.questions()}
    assert asked["composition, deepest bottling lot"] == {"brewlog"}


def test_an_empty_database_has_nothing_to_measure():
    with pytest.raises(CommandError, match="generate_plant") as refused:
        call_command("benchmark")
    assert refused.value.returncode == 2
