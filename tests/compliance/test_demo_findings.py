"""The invented brewery held against the alcohol line, the guidance and good habits.

The table is the story of `fixtures/demo/README.md`, lot by lot and limit by limit: each
planted problem is found, and nothing else.
"""

from __future__ import annotations

import datetime as dt

import pytest
from django.conf import settings

from brewlog.models import Lot, User
from compliance.assessment import Assessment, Urgency, assess
from compliance.domain.rulesets import bind, read_rulesets
from compliance.models import RuleSet
from tests.demo import raw_sheets
from tests.demo.loading import demo_records

pytestmark = [pytest.mark.django_db]

# The evening after the last day of the sheets.
AT = dt.datetime(2026, 11, 20, 20, 0, tzinfo=dt.UTC)

ALCOHOL, GUIDANCE, HABITS = "us-federal-alcohol", "kombucha-guidance", "house-template"


def _codes(text: str) -> list[str]:
    return text.split()


STOP = {
    # Three transfers after the mouldy culture mould was seen on this one.
    ("S26274A", GUIDANCE, "mould-culture"),
    # Stood in the cold: pH 4.31 an hour before its week was over, 4.24 on the ninth day.
    ("B26299B", GUIDANCE, "ph-in-time"),
    # 0.83 % vol. It stops alone.
    ("L26302E", ALCOHOL, "alcohol-bottling"),
}
CLOSE = {
    # pH meter 2 was found out on 4 May: what it read of these since 27 April shows nothing good.
    ("L26120A", GUIDANCE, "ph-flavoured"),
    ("L26120B", GUIDANCE, "ph-flavoured"),
    ("L26120C", GUIDANCE, "ph-flavoured"),
    # L26302E was drawn from it: was the vessel over the line already?
    ("B26292B", ALCOHOL, "alcohol-batch"),
}
LABEL = {("L26302E", ALCOHOL, "health-warning")}

# In the cooler on 18 and 19 July, at 11.2 to 14.1 °C.
ON_THE_WARM_WEEKEND = _codes(
    "L26120A L26127A L26134A L26134D L26141A L26141D L26148A L26155A L26155B L26162A L26162D "
    "L26162F L26169A L26176A L26176D L26176F L26183A L26183B L26183C L26183D L26183E L26190A "
    "L26190B L26190C L26190D L26190E L26190G"
)
# The green tea base was last sampled on 25 June (L26169C): more than 92 days before these.
WITHOUT_A_RECENT_RESULT = _codes(
    "L26281A L26281B L26281C L26295A L26295B L26295C L26309A L26309B L26309C L26317A L26317B "
    "L26323A L26323B L26323C"
)
# Returned swing-tops there are still bottles of; the last three stand warm to work on.
MAY_BURST = _codes("L26246A L26257B L26274A L26302A L26323A L26323B L26323C")
# Bottles on hand, sugar left in them, and no flavour ever tested at the end of its shelf life.
NOT_TESTED_AT_THE_END = _codes(
    "L26246A L26246D L26246F L26253A L26253D L26257B L26260A L26260B L26260C L26260D L26267A "
    "L26274A L26274B L26274C L26274D L26274E L26281A L26288A L26295A L26302A L26302D L26302E "
    "L26309A L26316A L26316B L26316C L26316D L26316E L26316F L26316G L26317A L26317B L26323A "
    "L26323B L26323C"
)

ACT = {
    # Four bottles more than the books had, of sixty.
    ("L26092B", HABITS, "balance"),
    # The meter that was out, once more: as a matter of the record, and of the first reading.
    ("B26117A", HABITS, "calibration"),
    ("B26117A", HABITS, "pitch-ph"),
    ("L26120A", HABITS, "calibration"),
    ("L26120B", HABITS, "calibration"),
    ("L26120C", HABITS, "calibration"),
    *((code, HABITS, "cold-store") for code in ON_THE_WARM_WEEKEND),
    *((code, HABITS, "lab-quarterly") for code in WITHOUT_A_RECENT_RESULT),
    *((code, HABITS, "pressure") for code in MAY_BURST),
    *((code, ALCOHOL, "alcohol-shelf-life") for code in NOT_TESTED_AT_THE_END),
}


@pytest.fixture(scope="module")
def held(django_db_setup, django_db_blocker) -> Assessment:
    """Every lot of the demo against the rules that bound it from before its first day."""
    with django_db_blocker.unblock(), demo_records():
        manager = User.objects.get(username="iria")
        read_rulesets(actor=manager, folder=settings.BASE_DIR / "fixtures" / "rulesets")
        for key in (ALCOHOL, GUIDANCE, HABITS):
            ruleset = RuleSet.objects.get(key=key)
            bind(actor=manager, ruleset=ruleset, since=dt.date(2026, 1, 1))
        yield assess(list(Lot.objects.live()), AT)


def found(held: Assessment, urgency: Urgency) -> set[tuple[str, str, str]]:
    return {
        (each.lot.code, each.limit.ruleset.key, each.limit.key)
        for each in held.findings
        if each.urgency == urgency
    }


@pytest.mark.parametrize(
    ("urgency", "expected"),
    [
        (Urgency.STOP, STOP),
        (Urgency.CLOSE, CLOSE),
        (Urgency.ACT, ACT),
        (Urgency.LABEL, LABEL),
        (Urgency.NOTE, set()),
    ],
)
def test_what_was_planted_is_found_and_nothing_else(held, urgency, expected):
    assert found(held, urgency) == expected


def test_there_is_one_finding_of_a_lot_and_a_limit(held):
    keys = [each.key for each in held.findings]
    assert len(keys) == len(set(keys))


def test_every_finding_opens_to_what_it_stands_on(held):
    for each in held.findings:
        assert each.limit.citation
        assert each.limit.clears
        assert each.limit.ruleset.source
        assert each.text
        if each.limit.kind not in {"balance", "pressure"}:
            assert each.evidence, each


def test_the_batches_still_fermenting_have_reached_their_ph(held):
    assert held.awaited == ()


def test_those_on_the_warm_weekend_are_the_ones_the_sheets_put_in_the_cooler():
    assert set(ON_THE_WARM_WEEKEND) == raw_sheets.in_the_cooler("2026-07-18")


def test_those_without_a_recent_result_are_of_the_green_base_by_the_sheets():
    recipe = {
        raw_sheets.lot(row["Lot code"]): row["Recipe version"] for row in raw_sheets.rows("Batches")
    }
    made_by = {
        raw_sheets.lot(row["Lot code"]): recipe[raw_sheets.lot(row["Batch"])]
        for row in raw_sheets.rows("Bottling")
        if row["Batch"]
    }
    last_sample = dt.date(2026, 6, 25)
    late = {
        code
        for code, made in made_by.items()
        if made == "Green tea base v1" and (_bottled(code) - last_sample).days > 92
    }
    assert set(WITHOUT_A_RECENT_RESULT) == late


def _bottled(code: str) -> dt.date:
    """The day in a lot code: L26323A is day 323 of 2026."""
    return dt.date(2026, 1, 1) + dt.timedelta(days=int(code[3:6]) - 1)
