"""What is usual of a recipe's batches, fixed from a run of them that somebody looked into.

Source of the practice: NIST/SEMATECH e-Handbook of Statistical Methods, chapter 6.3 (from memory):
limits are drawn from past values, those outside are looked into and left out where a cause was
found (phase I); then the limits stay, and later values are held against them (phase II).
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from brewlog.domain.batch_values import What, newest_batches, offered, series_of
from brewlog.domain.lots import refuse_future, save_new
from brewlog.models import Batch, Lot, Recipe, User, UsualRun, Vessel
from brewlog.recording import Refused, recording
from brewlog.science.control_charts import FEWEST, ControlChart, Sign, control_chart
from brewlog.science.errors import OutOfRange
from brewlog.when import When


def fix_usual(
    *,
    actor: User,
    recipe: Recipe,
    figure: str,
    first: Lot,
    last: Lot,
    when: When,
    vessel: Vessel | None = None,
    left_out: str = "",
    looked_into: str = "",
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
) -> UsualRun:
    """From now on later batches are held against what was usual of these.

    Raises `Refused` where the run has too few values, or values outside its own limits of which
    nobody says what was found.
    """
    refuse_future(when)
    with recording(actor, reason):
        run = UsualRun(
            recipe=recipe,
            vessel=vessel,
            figure=figure,
            first=_batch_of(recipe, first, "first"),
            last=_batch_of(recipe, last, "last"),
            looked_into=looked_into,
            done_by=done_by or actor,
            note=note,
        )
        run.when = when
        batches = list(_between(run))
        run.left_out = ", ".join(_left_out(left_out, batches))
        _refuse_unsteady(run, [each for each in batches if each.code not in run.left_out_codes])
        save_new(run)
        return run


def _batch_of(recipe: Recipe, lot: Lot, field: str) -> Batch:
    batch = lot.detail
    if not isinstance(batch, Batch) or batch.recipe is None or batch.recipe.recipe != recipe:
        raise Refused({field: f"{lot} is no batch of {recipe}. Name one that is."})
    if batch.pitched_at is None:
        raise Refused({field: f"{lot} has no starter yet. Name a batch that has."})
    return batch


def _between(run: UsualRun) -> Iterable[Batch]:
    """Every batch of the run, those left out too, in the order starter was added."""
    begin, end = run.first.pitched_at, run.last.pitched_at
    assert begin is not None
    assert end is not None
    if end <= begin:
        raise Refused({"last": f"Starter was added to {run.last} no later than to {run.first}."})
    rows = Batch.objects.live().filter(recipe__recipe=run.recipe_id, pitched_at__range=(begin, end))
    if run.vessel_id is not None:
        rows = rows.filter(vessel=run.vessel_id)
    if run.pk is not None:
        # What was written down later was not looked into.
        rows = rows.filter(recorded_at__lte=run.recorded_at)
    return rows.order_by("pitched_at", "pk")


def _left_out(typed: str, batches: list[Batch]) -> list[str]:
    """The codes of the batches named, as they are written."""
    codes = {each.code.upper(): each.code for each in batches}
    named = [each for each in re.split(r"[,;\s]+", typed.upper()) if each]
    unknown = [each for each in named if each not in codes]
    if unknown:
        raise Refused({"left_out": f"Not in this run: {', '.join(unknown)}."})
    return list(dict.fromkeys(codes[each] for each in named))


def _refuse_unsteady(run: UsualRun, batches: list[Batch]) -> None:
    what = figure_of(run)
    series = series_of(what, batches)
    codes = [each.batch.code for each in series.values]
    if len(codes) < FEWEST:
        raise Refused(
            {
                "last": f"{len(codes)} batches of this run have the value. Limits need {FEWEST}: "
                "with fewer they say little."
            }
        )
    try:
        chart = control_chart([each.value for each in series.values])
    except OutOfRange:
        raise Refused({"last": "All values are alike: no limits can be drawn."}) from None
    outside = [codes[at] for at in outside_of(chart)]
    if outside and not run.looked_into:
        raise Refused(
            {
                "looked_into": f"Outside what would be usual: {', '.join(outside)}. Find out why. "
                "Leave out those with a cause; of those without, write here what was found."
            }
        )


def figure_of(run: UsualRun) -> What:
    """Which value of a batch it is. Raises `Refused` where no limit asks for it any more."""
    newest = newest_batches(run.recipe_id)
    found = [each for each in offered(newest[-1] if newest else None) if each.slug == run.figure]
    if not found:
        raise Refused({"figure": "No limit that binds asks for this. Choose another value."})
    return found[0]


def outside_of(chart: ControlChart) -> list[int]:
    """Which values lie beyond the limits, by their place."""
    beyond = [each for each in chart.signals if each.sign == Sign.BEYOND]
    return sorted({at for each in beyond for at in range(each.first, each.last + 1)})


def usual_run(recipe: int, figure: str, vessel: int | None) -> UsualRun | None:
    """The run that holds for a chart; None where none was fixed. One query."""
    runs = UsualRun.objects.live().filter(recipe=recipe, figure=figure, vessel=vessel)
    return runs.select_related("first", "last", "done_by", "recipe").order_by("-pk").first()


def batches_of(run: UsualRun) -> list[Batch]:
    """The batches what is usual is taken from. One query."""
    left_out = set(run.left_out_codes)
    rows: list[Batch] = list(_between(run))
    return [each for each in rows if each.code not in left_out]
