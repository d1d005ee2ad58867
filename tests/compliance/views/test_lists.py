"""The lists of limits, plans, logs and recalls; and how lots stand, in the lists of lots."""

from __future__ import annotations

import csv
import datetime as dt
import io

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from brewlog.views.nouns import FURTHER_LISTINGS
from compliance.domain import holidays, labels, logs
from compliance.domain.holidays import DayOff
from compliance.domain.watch import look_through
from compliance.models import HazardPlan, Holiday, LabelSheet
from tests import factories as make
from tests.compliance import rules
from tests.compliance.domain import plans
from tests.factories import at
from tests.many import many_more

pytestmark = pytest.mark.django_db

NOUNS = [listing.noun for listing in FURTHER_LISTINGS]


def _log(actor):
    return logs.write_log(
        actor=actor, log="pest", what="two moths", subject="bait box 3", when=at(20)
    )


def _complaint(actor):
    (found,) = logs.record_complaint(
        actor=actor,
        kind="taste",
        said_by="a shop",
        what="sharp",
        lot=make.bottles(actor),
        when=at(25),
    )
    return found


def _plan(actor):
    version = plans.draft(actor, plans.plan(actor, f"Plan {HazardPlan.objects.count()}"))
    return plans.sign(actor, version)


def _holiday(actor):
    day = DayOff(dt.date(2027, 1, 1) + dt.timedelta(days=Holiday.objects.count()), "holiday")
    return holidays.keep_holidays(actor=actor, days=[day])


# One more of each noun; what it needs comes with it.
ONE_MORE = {
    "deviation": lambda actor: rules.deviation(actor, make.bottles(actor)),
    "recall": lambda actor: rules.ask_recall(actor, make.bottles(actor)),
    "plan": _plan,
    "log": _log,
    "complaint": _complaint,
    "room-temperature": lambda actor: make.location(actor, is_cold=True),
    "label-sheet": lambda actor: labels.add_sheet(
        actor=actor,
        name=f"Sheet {LabelSheet.objects.count()}",
        paper="a4",
        columns=2,
        rows=5,
        label_width=90,
        label_height=50,
    ),
    "label-run": lambda actor: labels.print_labels(
        actor=actor, lot=make.bottles(actor), count=8, when=at(22)
    ),
    "holiday": _holiday,
    "calibration-due": lambda actor: make.instrument(actor, calibrate_every_days=30),
}


def test_every_list_has_one_more_to_try_it_with():
    assert set(ONE_MORE) == set(NOUNS)


QUERIES = {
    "deviation": 9,
    "recall": 9,
    "plan": 14,
    "log": 10,
    "complaint": 9,
    "room-temperature": 9,
    "calibration-due": 9,
    "label-sheet": 9,
    "label-run": 9,
    "holiday": 10,
}


@pytest.mark.parametrize("noun", NOUNS)
def test_a_list_asks_as_much_for_three_hundred_rows_as_for_one(browse, manager, operator, noun):
    browser = browse(operator)
    rows = next(each for each in FURTHER_LISTINGS if each.noun == noun).queryset()
    counted, shown = [], []
    for more in (1, 2, 297):
        if more < 3:
            for _ in range(more):
                ONE_MORE[noun](manager)
        else:
            many_more(manager, rows.order_by("pk").last(), more)
        with CaptureQueriesContext(connection) as queries:
            page = browser.open(reverse(f"{noun}-list"))
        counted.append(len(queries))
        shown.append(page.response.context["page"].paginator.count)

    assert counted == [QUERIES[noun]] * 3
    assert shown == [1, 3, 300]


@pytest.mark.parametrize("noun", NOUNS)
def test_a_download_has_what_is_shown(browse, operator, manager, noun):
    for _ in range(2):
        ONE_MORE[noun](manager)
    browser = browse(operator)
    listing = next(each for each in FURTHER_LISTINGS if each.noun == noun)
    sort = next(column.name for column in listing.columns if column.order)

    shown = browser.open(reverse(f"{noun}-list"), sort=f"-{sort}").rows
    sheet = browser.client.get(reverse(f"{noun}-download", args=["csv"]), {"sort": f"-{sort}"})

    shown[0] = [title.removesuffix(" ↓") for title in shown[0]]
    assert list(csv.reader(io.StringIO(sheet.content.decode("utf-8-sig")))) == shown


def test_a_deviation_is_found_once_by_a_lot_it_touches(browse, operator, manager):
    bottles = [make.bottles(manager) for _ in range(2)]
    rules.deviation(manager, *bottles)

    page = browse(operator).open(reverse("deviation-list"), q=bottles[0].code[:4])

    assert [row[4] for row in page.rows[1:]] == ["2"]


# How lots stand --------------------------------------------------------------------------


def _bottled(actor, value):
    """Bottles of a drink of that pH, when finished."""
    lot = make.bottles(actor, when=at(12))
    make.reading(actor, lot, value, when=at(14), stage="finished")
    return lot


def _limits(page) -> dict[str, str]:
    if not page.rows:
        return {}
    column = page.rows[0].index("Limits")
    return {row[0]: row[column] for row in page.rows[1:]}


@pytest.mark.parametrize("is_kept", [False, True], ids=["worked out", "kept"])
def test_bottling_lots_say_how_they_stand_against_the_limits(browse, operator, guidance, is_kept):
    sound, close, sour = (_bottled(operator, value) for value in ("3.40", "4.19", "4.60"))
    if is_kept:
        look_through()

    page = browse(operator).open(reverse("bottling-list"))

    assert _limits(page) == {
        sound.code: "clear",
        close.code: "needs a look",
        sour.code: "outside",
    }


def test_what_was_written_since_shows_at_once(browse, operator, guidance):
    lot = _bottled(operator, "3.40")
    look_through()
    make.reading(operator, lot, "4.60", when=at(15), stage="finished")

    assert _limits(browse(operator).open(reverse("bottling-list"))) == {lot.code: "outside"}


def test_no_word_where_no_rules_bind(browse, operator):
    lot = _bottled(operator, "4.60")

    assert _limits(browse(operator).open(reverse("bottling-list"))) == {lot.code: "—"}


def test_the_words_ask_as_much_for_three_hundred_lots_as_for_one(
    browse, operator, manager, guidance
):
    browser, counted = browse(operator), []
    for more in (1, 2, 297):
        if more < 3:
            for _ in range(more):
                newest = _bottled(operator, "4.60")
        else:
            many_more(manager, newest, more)
        look_through()
        with CaptureQueriesContext(connection) as queries:
            page = browser.open(reverse("bottling-list"))
        counted.append(len(queries))

    assert page.response.context["page"].paginator.count == 300
    assert counted == [19, 19, 19]


def test_a_list_is_narrowed_to_how_lots_stand(browse, operator, guidance):
    """By what is kept of them, and of one written about since by what is found of it now."""
    clear, out, since = (_bottled(operator, value) for value in ("3.40", "4.60", "3.40"))
    look_through()
    make.reading(operator, since, "4.60", when=at(15), stage="finished")
    browser = browse(operator)

    def listed(word: str) -> set[str]:
        return set(_limits(browser.open(reverse("bottling-list"), limits=word)))

    assert listed("outside") == {out.code, since.code}
    assert listed("clear") == {clear.code}
    assert listed("needs a look") == set()
    assert listed("perhaps") == {clear.code, out.code, since.code}


def test_nothing_stands_so_where_no_rules_bind(browse, operator):
    _bottled(operator, "3.40")

    assert _limits(browse(operator).open(reverse("bottling-list"), limits="clear")) == {}


def test_narrowing_asks_as_much_for_three_hundred_lots_as_for_one(
    browse, operator, manager, guidance
):
    browser, counted = browse(operator), []
    for more in (1, 299):
        if more == 1:
            newest = _bottled(operator, "4.60")
        else:
            many_more(manager, newest, more)
        look_through()
        with CaptureQueriesContext(connection) as queries:
            browser.open(reverse("bottling-list"), limits="outside")
        counted.append(len(queries))

    assert counted[0] == counted[1]
