"""Label stock, printings, and whether the labels add up to the bottles."""

from __future__ import annotations

from decimal import Decimal

import pytest

from brewlog.domain import lots
from brewlog.models import ReviewFlag
from brewlog.recording import Refused
from compliance.domain import labels
from compliance.models import LabelRun
from tests import factories
from tests.factories import at

pytestmark = pytest.mark.django_db


@pytest.fixture
def bottles(operator):
    return factories.bottles(operator, 100, when=at(12))


def sheet(actor, **fields):
    measures = {
        "paper": "a4", "columns": 3, "rows": 7, "label_width": Decimal("63.5"),
        "label_height": Decimal("38.1"), "left": Decimal("7.2"), "top": Decimal("15.1"),
        "pitch_across": Decimal("66"), "pitch_down": Decimal("38.1"),
    }  # fmt: skip
    return labels.add_sheet(actor=actor, name=fields.pop("name", "box 7"), **{**measures, **fields})


def printed(actor, bottles, count, **fields):
    return labels.print_labels(actor=actor, lot=bottles, count=count, when=at(13), **fields)


def counted(actor, bottles, put_on, **fields):
    return labels.count_labels(actor=actor, lot=bottles, put_on=put_on, when=at(13), **fields)


def test_stock_is_drawn_by_its_measures(operator):
    geometry = sheet(operator).geometry
    assert geometry.per_page == 21
    x, y = geometry.corner(4)  # second of the second row
    assert (x, y) == pytest.approx((7.2 + 66, 297 - 15.1 - 2 * 38.1))


def test_labels_touch_where_no_pitch_is_written(operator):
    touching = sheet(operator, pitch_across=None, pitch_down=None).geometry
    assert (touching.pitch_across, touching.pitch_down) == (63.5, 38.1)


@pytest.mark.parametrize(
    ("measures", "words"),
    [
        ({"columns": 4}, "wider than the page"),
        ({"rows": 8}, "higher than the page"),
        ({"pitch_across": Decimal(50)}, "lie over one another"),
    ],
)
def test_measures_that_cannot_be_are_refused(operator, measures, words):
    with pytest.raises(Refused, match=words):
        sheet(operator, **measures)


def test_printing_goes_on_at_the_first_free_place_of_the_same_stock(operator, bottles):
    own = sheet(
        operator, columns=2, rows=4, label_width=Decimal(99), label_height=Decimal("67.7"),
        pitch_across=Decimal("101.6"), pitch_down=Decimal("67.7"), left=Decimal("4.7"),
        top=Decimal(13),
    )  # fmt: skip
    assert printed(operator, bottles, 30, sheet=own).start == 1
    assert printed(operator, bottles, 10, sheet=own).start == 7
    assert printed(operator, bottles, 1, sheet=own).start == 1
    assert printed(operator, bottles, 1).start == 1
    assert printed(operator, bottles, 1).start == 2
    assert printed(operator, bottles, 1, start=5).start == 5


def test_a_place_the_sheet_has_not_is_refused(operator, bottles):
    with pytest.raises(Refused, match="places 1 to 8"):
        printed(operator, bottles, 1, start=9)


def test_a_lot_kept_back_is_not_labelled(operator, reviewer, bottles):
    factories.hold(reviewer, bottles, "other")
    with pytest.raises(Refused, match="must not be labelled for sale"):
        printed(operator, bottles, 1)
    assert not LabelRun.objects.exists()


def test_more_labels_than_bottles_need_a_reason(operator, bottles):
    printed(operator, bottles, 105)
    with pytest.raises(Refused) as refused:
        printed(operator, bottles, 50)
    assert "100 are needed; 105 are printed already, and this makes 155" in str(refused.value)
    assert printed(operator, bottles, 50, note="the roll got wet").count == 50


def test_cases_are_counted_by_how_many_bottles_they_hold(operator, bottles):
    with pytest.raises(Refused, match="how many bottles are in a case"):
        printed(operator, bottles, 1, what="case")
    run = printed(operator, bottles, 9, what="case", per_case=12)
    assert (run.per_case, labels.tally(bottles, "case").printed) == (12, 9)
    with pytest.raises(Refused, match="9 are needed"):
        printed(operator, bottles, 20, what="case", per_case=12)


def test_a_wrong_gtin_of_the_case_is_refused(operator, bottles):
    with pytest.raises(Refused, match="check digit would be 5"):
        printed(operator, bottles, 1, what="case", per_case=12, case_gtin="19520123456786")


@pytest.mark.parametrize(
    ("put_on", "spoiled", "destroyed", "words"),
    [
        (100, 3, 5, "it adds up"),
        (100, 3, 0, "5 printed labels are not accounted for yet"),
        (97, 3, 8, "3 bottles have no label"),
    ],
)
def test_labels_reconcile_with_the_bottles_filled(
    operator, bottles, put_on, spoiled, destroyed, words
):
    printed(operator, bottles, 108)
    counted(operator, bottles, put_on, spoiled=spoiled, destroyed=destroyed)
    assert labels.tally(bottles, "bottle").in_words == words
    assert not ReviewFlag.objects.exists()


@pytest.mark.parametrize(
    ("put_on", "spoiled", "words"),
    [(105, 0, "105 labels put on, and 100 bottles"), (100, 20, "another lot may be among them")],
)
def test_what_cannot_add_up_is_put_before_a_reviewer(operator, bottles, put_on, spoiled, words):
    printed(operator, bottles, 108)
    counted(operator, bottles, put_on, spoiled=spoiled)
    assert words in ReviewFlag.objects.get().text


def test_a_voided_printing_does_not_count(operator, bottles):
    run = printed(operator, bottles, 108)
    lots.void(actor=operator, record=run, reason="jammed before the first")
    assert labels.tally(bottles, "bottle").printed == 0
    assert printed(operator, bottles, 108).start == 1


def test_a_label_with_no_room_for_its_words_is_not_printed(operator, bottles):
    with pytest.raises(Refused, match="There is no room for the"):
        printed(operator, bottles, 1, sheet=sheet(operator))
    assert not LabelRun.objects.exists()


def elsewhere(actor, bottles, count, **fields):
    return labels.printed_elsewhere(actor=actor, lot=bottles, count=count, when=at(13), **fields)


def test_labels_printed_elsewhere_count_like_any_other(operator, bottles):
    run = elsewhere(operator, bottles, 104)
    counted(operator, bottles, 100, spoiled=4)

    assert run.is_elsewhere
    assert (run.stock, run.sheet, run.printed) == ("", None, "")
    assert labels.tally(bottles, "bottle").in_words == "it adds up"
    assert not ReviewFlag.objects.exists()


def test_labels_printed_elsewhere_are_written_down_of_a_lot_kept_back(operator, reviewer, bottles):
    factories.hold(reviewer, bottles, "other")
    elsewhere(operator, bottles, 50)
    assert labels.tally(bottles, "bottle").printed == 50


def test_more_labels_from_elsewhere_than_are_needed_are_put_before_a_reviewer(operator, bottles):
    elsewhere(operator, bottles, 500, note="the least the house prints")
    assert not ReviewFlag.objects.exists()
    elsewhere(operator, bottles, 12)
    assert ReviewFlag.objects.get(lot=bottles.pk).text == (
        "12 labels printed elsewhere: 100 are needed; 500 are printed already, and this makes 512"
    )


def test_labels_of_cases_from_elsewhere_say_how_many_are_in_one(operator, bottles):
    with pytest.raises(Refused, match="how many bottles are in a case"):
        elsewhere(operator, bottles, 9, what="case")
    assert elsewhere(operator, bottles, 9, what="case", per_case=12).per_case == 12


def test_labels_from_elsewhere_take_no_place_on_the_brewerys_sheets(operator, bottles):
    printed(operator, bottles, 3)
    elsewhere(operator, bottles, 2)
    assert printed(operator, bottles, 1).start == 4
