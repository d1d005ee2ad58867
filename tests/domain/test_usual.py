"""Fixing what is usual from a run of batches."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pytest

from brewlog.domain import usual
from brewlog.models import Batch, User, UsualRun
from brewlog.recording import Refused
from brewlog.when import When
from tests import factories as make
from tests.factories import STEADY

pytestmark = pytest.mark.django_db


class Runs:
    """Batches of one recipe, and runs of them that are fixed."""

    def __init__(self, manager: User) -> None:
        self.manager = manager
        self.version = make.recipe_version(manager)
        self.batches: list[Batch] = []

    def __call__(self, values: Sequence[str] = STEADY) -> UsualRun:
        """Brew batches with these values, and fix all of them."""
        self.batches = make.batches_side_by_side(self.manager, self.version, values)
        return self.again()

    def again(self, **given: Any) -> UsualRun:
        all_of_them: dict[str, Any] = {
            "actor": self.manager,
            "recipe": self.version.recipe,
            "figure": "ph-pitch",
            "first": self.batches[0],
            "last": self.batches[-1],
            "when": make.now(),
        }
        return usual.fix_usual(**all_of_them | given)


@pytest.fixture
def run(manager, brewery):
    return Runs(manager)


def test_the_run_is_every_batch_from_the_first_to_the_last(run):
    found = run()

    assert usual.batches_of(found) == run.batches
    assert found.history.count() == 1


def test_a_batch_with_a_known_cause_is_left_out(run):
    with pytest.raises(Refused) as refused:
        run([*STEADY, "5.60", "4.20"])
    odd = run.batches[20]
    assert (
        f"Outside what would be usual: {odd.code}." in refused.value.message_dict["looked_into"][0]
    )

    found = run.again(left_out=odd.code.lower(), note="wrong buffer")

    assert found.left_out == odd.code
    assert odd not in usual.batches_of(found)


def test_one_outside_without_a_cause_stays_where_somebody_looked(run):
    with pytest.raises(Refused):
        run([*STEADY, "5.60", "4.20"])

    found = run.again(looked_into="Meter, culture and warmth as always.")

    assert len(usual.batches_of(found)) == 22


def test_a_batch_written_down_later_does_not_join(run, manager):
    found = run()
    between = When(run.batches[3].when.at.replace(hour=15))
    late = make.batch(manager, "10 L", when=between, recipe=run.version)

    assert late not in usual.batches_of(found)


@pytest.mark.parametrize(
    ("values", "field", "words"),
    [
        (STEADY[:19], "last", "19 batches of this run have the value. Limits need 20"),
        (["4.20"] * 20, "last", "All values are alike"),
    ],
)
def test_a_run_that_says_too_little_is_refused(run, values, field, words):
    with pytest.raises(Refused) as refused:
        run(values)

    assert words in refused.value.message_dict[field][0]
    assert not UsualRun.objects.exists()


def test_what_is_no_run_of_the_recipe_is_refused(run, manager):
    run()
    other = make.batch(manager, "10 L")
    planned = make.brew(manager)
    first, last = run.batches[0], run.batches[-1]

    for given, field, words in (
        ({"first": other}, "first", "is no batch of"),
        ({"last": planned}, "last", "is no batch of"),
        ({"first": last, "last": first}, "last", "no later than"),
        ({"left_out": "B-NONE"}, "left_out", "Not in this run: B-NONE."),
        ({"figure": "ph-deadline"}, "figure", "No limit that binds asks for this"),
    ):
        with pytest.raises(Refused) as refused:
            run.again(**given)
        assert words in refused.value.message_dict[field][0]
    assert UsualRun.objects.count() == 1


def test_the_newest_holds_for_its_chart_only(run, manager):
    old = run()
    new = run.again(note="again")

    assert usual.usual_run(run.version.recipe_id, "ph-pitch", None) == new
    assert usual.usual_run(run.version.recipe_id, "ph-end", None) is None
    assert usual.usual_run(run.version.recipe_id, "ph-pitch", make.vessel(manager).pk) is None
    assert old != new
