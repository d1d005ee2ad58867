"""Batch to batch: a value of every batch of a recipe, and what tells of a change."""

from __future__ import annotations

import csv
import datetime as dt
import io
import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from brewlog.domain import batch_values, lots, usual
from brewlog.models import Batch, UsualRun
from brewlog.when import When, on_day
from tests import factories as make
from tests.compliance import rules
from tests.factories import at

pytestmark = pytest.mark.django_db

URL = "batch-to-batch"
# Three are: session, person, brewery; two for what the person may; one begins the reading;
# recipes, batches, limits that bind, readings, bottlings, results, the run that was fixed. With
# one, four more: its batches and their values.
QUERIES = 13
QUERIES_FIXED = QUERIES + 4


def later(when: When, hours: float) -> When:
    return When(when.at + dt.timedelta(hours=hours))


@pytest.fixture
def recipe(manager):
    return make.recipe_version(manager, "Hill black tea")


@pytest.fixture
def pitch(manager, recipe, brewery):
    """Batches of the recipe, one a day, each with the pH read after adding starter."""
    starter = make.culture(manager, "500 L", when=at(1))

    def batches(*values: str | None, **given) -> list[Batch]:
        found = []
        for value in values:
            day = Batch.objects.count() + 2
            batch = make.batch(
                manager,
                "10 L",
                starter=starter,
                starter_amount="1 L",
                when=at(day % 28 + 1, month=3 + day // 28),
                recipe=recipe,
                **given,
            )
            if value is not None:
                make.reading(manager, batch, value, later(batch.when, 0.5), stage="pitch")
            found.append(batch)
        return found

    return batches


def _ask(browse, who, recipe, **query):
    return browse(who).open(reverse(URL), recipe=recipe.recipe_id, **query)


def _told(page) -> dict[str, str]:
    """What the table of all values tells of each batch; the last one on the page has them all."""
    return {row[0]: row[6] for row in page.rows if len(row) == 7 and row[0] != "Batch"}


def _pictures(page) -> list[str]:
    return re.findall(r"<svg.*?</svg>", page.response.content.decode(), re.DOTALL)


STEADY = ["4.20", "4.30"] * 10


def test_too_few_batches_have_no_chart_and_say_how_many_are_missing(
    browse, inspector, recipe, pitch
):
    pitch(*STEADY[:19])

    page = _ask(browse, inspector, recipe)

    assert "19 of 20 batches that limits can be drawn from have it: 1 more." in page.text
    assert _pictures(page) == []
    assert len(_told(page)) == 19


def test_from_twenty_on_there_are_limits_worked_out_from_the_batches(
    browse, inspector, recipe, pitch
):
    batches = pitch(*STEADY)

    page = _ask(browse, inspector, recipe)

    # Mean 4.25, mean step 0.1: 4.25 ± 3 × 0.1 / 1.128; steps up to 3.267 × 0.1.
    drawn = _pictures(page)
    assert len(drawn) == 4
    assert ">usual up to 4.516<" in drawn[0]
    assert ">usual down to 3.984<" in drawn[0]
    assert ">usual up to 0.327<" in drawn[2]
    assert "the mean, 4.250," in drawn[0]
    assert drawn[0].count("<circle") == 20
    assert drawn[2].count("<circle") == 19
    assert "Nowhere: the batches differ no more than is usual" in page.text
    assert page.rows[1][:1] + page.rows[1][4:6] == [batches[-1].code, "4.30", "0.10"]


def test_a_batch_unlike_the_others_is_ringed_and_named(browse, inspector, recipe, pitch):
    *_, odd, _ = pitch(*STEADY, "5.10", "4.30")

    page = _ask(browse, inspector, recipe)

    told = _told(page)
    assert told[odd.code] == "above the usual; a wider step than usual from the batch before"
    assert ">above the usual<" in _pictures(page)[0]
    assert ">wider than usual<" in _pictures(page)[2]
    assert _pictures(page)[0].count("line-limit") == 1  # the ring
    # The batch after it came back, which is as wide a step.
    assert list(told.values()).count("") == 0
    assert sum(words != "—" for words in told.values()) == 2


def test_a_shift_is_told_where_it_is_complete(browse, inspector, recipe, pitch):
    batches = pitch(*STEADY, *["4.27", "4.28"] * 4)

    told = _told(_ask(browse, inspector, recipe))

    # The last of the steady ones was above the mean too: nine in a row.
    met = {code: words for code, words in told.items() if words != "—"}
    assert met == dict.fromkeys(
        [batch.code for batch in batches[:-3:-1]], "8 in a row above the mean"
    )


def test_values_all_alike_have_no_limits(browse, inspector, recipe, pitch):
    pitch(*["4.20"] * 20)

    page = _ask(browse, inspector, recipe)

    assert "All values are alike: no limits can be drawn." in page.text
    assert _pictures(page) == []


def test_voided_readings_do_not_count_and_corrected_ones_do(
    browse, inspector, manager, recipe, pitch
):
    batches = pitch(*STEADY, "6.00", "6.10")
    wrong, mended = (batch.readings.get() for batch in batches[-2:])
    lots.void(actor=manager, record=wrong, reason="another jar")
    make.reading(manager, batches[-2], "4.22", later(batches[-2].when, 1), stage="pitch")
    lots.void(actor=manager, record=mended, reason="mistyped")

    page = _ask(browse, inspector, recipe)

    values = {row[0]: row[4] for row in page.rows if len(row) == 7}
    assert values[batches[-2].code] == "4.22"
    assert batches[-1].code not in values
    assert f"Not read: {batches[-1].code}" in page.text


def test_only_one_vessel_where_that_is_asked(browse, inspector, manager, recipe, pitch):
    jar = make.vessel(manager, "Jar 7")
    pitch(*STEADY[:3])
    in_jar = pitch("4.40", "4.41", vessel=jar, already_done=True)

    page = _ask(browse, inspector, recipe, vessel=jar.pk)

    assert set(_told(page)) == {batch.code for batch in in_jar}


def test_batches_of_other_recipes_stay_out(browse, inspector, manager, recipe, pitch):
    mine = pitch("4.40")
    other = make.recipe_version(manager, "Green tea")
    pitch_other = make.batch(manager, starter=make.culture(manager), when=at(5), recipe=other)
    make.reading(manager, pitch_other, "4.1", at(5, 10), stage="pitch")

    page = _ask(browse, inspector, recipe)

    assert set(_told(page)) == {mine[0].code}


def test_what_is_not_known_is_taken_as_unasked(browse, inspector, recipe, pitch):
    (batch,) = pitch("4.40")

    page = browse(inspector).open(reverse(URL), recipe="x", what="colour", vessel="99999")

    assert page.status == 200
    assert set(_told(page)) == {batch.code}


def test_without_batches_the_page_says_what_it_is_for(browse, inspector, brewery):
    assert "No batch by a recipe has starter yet" in browse(inspector).open(reverse(URL)).text


# Each value -----------------------------------------------------------------------------


@pytest.fixture
def value(recipe):
    """What is found of each batch, by its slug: the words, or why there is nothing."""

    def find(slug: str) -> list[str]:
        batches = batch_values.newest_batches(recipe.recipe_id)
        (what,) = (each for each in batch_values.offered(batches[-1]) if each.slug == slug)
        series = batch_values.series_of(what, batches)
        return [each.words for each in series.values] + sorted(series.missing)

    return find


def test_the_second_day_is_the_reading_nearest_to_48_hours(manager, pitch, value):
    early, near, late, none = pitch(None, None, None, None)
    for hours, ph in ((41, "4.1"), (43, "4.0"), (53, "3.9")):
        make.reading(manager, early, ph, later(early.when, hours))
    for hours, ph in ((47, "3.95"), (48, "3.93"), (50, "3.92")):
        make.reading(manager, near, ph, later(near.when, hours))
    make.reading(manager, late, "3.8", later(late.when, 55))

    assert value("ph-second-day") == ["4.0", "3.93", batch_values.NO_READING]
    assert none.readings.count() == 0


def test_a_time_known_only_to_the_day_has_no_hours(manager, pitch, value):
    (batch,) = pitch(None)
    day = timezone.localdate(batch.when.at) + dt.timedelta(days=2)
    make.reading(manager, batch, "3.9", on_day(day))

    assert value("ph-second-day") == [batch_values.TO_THE_DAY]


def test_the_end_of_the_ferment_is_the_last_reading_before_bottling(manager, pitch, value):
    open_one, bottled = pitch(None, None)
    for batch in (open_one, bottled):
        make.reading(manager, batch, "3.4", later(batch.when, 200))
        make.reading(manager, batch, "3.2", later(batch.when, 240))
        make.reading(manager, batch, "9", later(batch.when, 240), measurand="brix", stage="ferment")
    make.bottles(manager, 10, bottled, "4 L", later(bottled.when, 241))
    make.reading(manager, bottled, "3.1", later(bottled.when, 250), stage="ferment")

    assert value("ph-end") == ["3.2", batch_values.NOT_BOTTLED]
    assert value("sugar-end") == ["9", batch_values.NOT_BOTTLED]


def test_alcohol_is_the_highest_result_of_the_batch_and_its_bottles(manager, pitch, value):
    batch, _ = pitch(None, None)
    for result in ("0.41", "0.62"):
        bottles = make.bottles(manager, 4, batch, "2 L", later(batch.when, 200))
        make.lab_result(manager, bottles, result, later(batch.when, 300))

    assert value("alcohol") == ["0.62", "no laboratory result"]


def test_where_a_ph_is_due_the_hours_until_it_was_read_are_offered(manager, pitch, value):
    rules.bound(manager, "kombucha-guidance")
    quick, slow = pitch(None, None)
    for hours, ph in ((24, "4.5"), (72, "4.2"), (150, "3.8"), (200, "3.5")):
        make.reading(manager, quick, ph, later(quick.when, hours))
    make.reading(manager, slow, "4.4", later(slow.when, 100))

    assert value("hours-to-limit") == ["72", "never read so low"]
    assert value("ph-deadline") == ["3.8", "4.4"]


def test_without_a_deadline_nothing_of_one_is_offered(pitch, recipe):
    pitch("4.4")
    slugs = {
        each.slug
        for each in batch_values.offered(batch_values.newest_batches(recipe.recipe_id)[-1])
    }

    assert "hours-to-limit" not in slugs


def test_warmth_is_in_the_readers_degrees(browse, operator, manager, recipe, pitch):
    operator.units = "us"
    operator.save()
    for batch, degrees in zip(pitch(*[None] * 20), ("24", "25") * 10, strict=True):
        make.reading(manager, batch, degrees, batch.when, measurand="temperature", stage="pitch")

    page = _ask(browse, operator, recipe, what="warmth-pitch")

    # Mean 24.5 °C = 76.1 °F.
    assert "the mean, 76.10," in _pictures(page)[0]
    assert ">°F<" in _pictures(page)[0]


# Ways here and away ---------------------------------------------------------------------


def test_the_page_is_reached_from_recipe_batch_and_readings(browse, operator, recipe, pitch):
    (batch,) = pitch("4.4")
    here = f"{reverse(URL)}?recipe={recipe.recipe_id}"

    of_recipe = browse(operator).open(reverse("recipe-detail", args=[recipe.recipe_id]))
    of_batch = browse(operator).open(reverse("lot-detail", args=[batch.code]))
    of_readings = browse(operator).open(reverse("reading-list"))

    assert of_recipe.links["its values side by side"] == here
    assert of_batch.links["beside its recipe's others"] == here
    assert reverse(URL) in of_readings.links.values()


def test_the_values_are_downloaded_as_they_are_shown(browse, inspector, recipe, pitch):
    pitch(*STEADY, "5.10")
    page = _ask(browse, inspector, recipe)

    sent = browse(inspector).client.get(page.links["CSV"])
    rows = list(csv.reader(io.StringIO(sent.content.decode("utf-8-sig"))))

    start = max(n for n, row in enumerate(page.rows) if row[0] == "Batch")
    assert [row[1:] for row in rows] == [row[1:] for row in page.rows[start:]]
    assert len(rows) == 22


def test_no_more_is_asked_for_many_batches_than_for_one(browse, inspector, manager, recipe, pitch):
    client = browse(inspector).client
    counted = []
    for more in (1, 2, 20):
        for value in STEADY[:more]:
            pitch(value, vessel=make.vessel(manager))
        with CaptureQueriesContext(connection) as queries:
            client.get(reverse(URL), {"recipe": recipe.recipe_id})
        counted.append(len(queries))

    assert counted == [QUERIES] * 3


# What was fixed as usual ----------------------------------------------------------------


@pytest.fixture
def fix(manager, recipe):
    """Fix a run of batches as what is usual of the pH after adding starter."""

    def fixed(batches: list[Batch], **given):
        return usual.fix_usual(
            actor=manager,
            recipe=recipe.recipe,
            figure="ph-pitch",
            first=batches[0],
            last=batches[-1],
            when=make.now(),
            **given,
        )

    return fixed


def test_later_batches_are_held_against_the_run_that_was_fixed(
    browse, inspector, recipe, pitch, fix
):
    fix(pitch(*STEADY), note="All from meter 1.")
    # Among themselves these would be usual: they are as far apart as the run's.
    drifted = pitch(*["4.70", "4.60"] * 12)

    page = _ask(browse, inspector, recipe)

    # The run's own: mean 4.25, mean step 0.1.
    assert ">usual up to 4.516<" in _pictures(page)[0]
    assert "above the usual" in _told(page)[drifted[0].code]
    assert "Fixed as usual by" in page.text
    assert "All from meter 1." in page.text


def test_without_a_run_the_limits_are_drawn_from_all_that_is_shown(
    browse, inspector, manager, recipe, pitch, fix
):
    run = fix(pitch(*STEADY))
    pitch(*["4.70", "4.60"] * 12)
    lots.void(actor=manager, record=run, reason="the meter was changed since")

    page = _ask(browse, inspector, recipe)

    assert ">usual up to 4.516<" not in _pictures(page)[0]
    assert "Fixed as usual" not in page.text
    assert "it moves with each new one" in page.text


def test_batches_before_the_run_are_shown_and_not_judged(browse, inspector, recipe, pitch, fix):
    (early,) = pitch("5.90")
    fix(pitch(*STEADY))

    told = _told(_ask(browse, inspector, recipe))

    assert told[early.code] == "—"


def test_a_few_later_batches_are_enough_on_limits_that_were_fixed(
    browse, inspector, manager, recipe, pitch, fix
):
    jar = make.vessel(manager, "Jar 7")
    batches = pitch(*STEADY, "5.10", vessel=jar, already_done=True)
    fix(batches[:20], vessel=jar)

    told = _told(_ask(browse, inspector, recipe, vessel=jar.pk))

    assert "above the usual" in told[batches[-1].code]


def test_a_run_that_cannot_be_drawn_any_more_says_so(
    browse, inspector, manager, recipe, pitch, fix
):
    batches = pitch(*STEADY)
    fix(batches)
    lots.void(actor=manager, record=batches[3].readings.get(), reason="another jar")

    page = _ask(browse, inspector, recipe)

    assert "cannot be drawn any more: 19 of its batches have the value now" in page.text


def test_who_manages_fixes_what_is_shown(browse, manager, reviewer, recipe, pitch):
    batches = pitch(*STEADY)
    browser = browse(manager)
    here = _ask(browse, manager, recipe)
    address = here.links["Fix what is usual"]

    page = browser.send(address.partition("?")[0], browser.open(address).fields)

    run = UsualRun.objects.get()
    assert (run.first, run.last, run.figure) == (batches[0], batches[-1], "ph-pitch")
    assert "Fixed as usual by" in page.text
    assert "Fix what is usual" not in _ask(browse, reviewer, recipe).links


def test_no_more_is_asked_for_many_batches_on_limits_that_were_fixed(
    browse, inspector, recipe, pitch, fix
):
    fix(pitch(*STEADY))
    client = browse(inspector).client
    counted = []
    for _ in range(2):
        with CaptureQueriesContext(connection) as queries:
            client.get(reverse(URL), {"recipe": recipe.recipe_id})
        counted.append(len(queries))
        pitch(*STEADY)

    assert counted == [QUERIES_FIXED] * 2
