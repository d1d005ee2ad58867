"""Each line of the start page is there, leads to its form filled in, and goes once that is sent."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from brewlog.domain import batches, line, recipes, registers, stock
from brewlog.models import CultureLine, Ingredient, Recipe, ReviewFlag, User
from tests import factories as make
from tests.views.today.settling import HOME, settle

pytestmark = pytest.mark.django_db


@dataclass
class Doing:
    """A line: its button, what it says, what its form knows, what is typed to settle it."""

    button: str
    says: str
    knows: dict[str, str]
    typed: dict[str, Any] = field(default_factory=dict)
    who: str = "operator"
    through: str = ""


def _today(days: int = 0) -> dt.date:
    return timezone.localdate() + dt.timedelta(days=days)


def _warm(by: User) -> Doing:
    make.location(by, "Cooler", is_cold=True)
    batch = make.batch(by, when=make.now(-10))
    make.reading(by, batch, "4", make.now(-5), measurand="brix")
    strong = make.bottle_format(by, "Brown 330", rating="rated", rated_bar=8)
    lot = make.bottles(by, 60, batch, "20 L", make.now(-4), format=strong)
    make.move(by, lot, "20", make.location(by, "Cellar", is_cold=True), make.now(-1))
    return Doing(
        f"Put it in the cold: {lot.code}",
        "40 of Flavour",
        {"lot": lot.code, "quantity": "40", "to_location": "Cooler"},
    )


def _kept_bottles(by: User) -> Doing:
    lot = make.bottles(by, 60, when=make.now(-9), carbonation="still")
    line.keep_bottles(actor=by, lot=lot, count=3, kept="warm", pull_on=_today(), when=make.now(-9))
    return Doing(
        f"Open them: {lot.code}",
        "3 kept back at room temperature",
        {"lot": lot.code, "kept": "warm"},
        {"finding": "lively, clean"},
    )


def _no_starter(by: User) -> Doing:
    make.culture(by, code="S1", when=make.now(-1))
    batch = batches.plan_batch(actor=by, when=make.now(-1))
    make.use(by, make.brew(by, when=make.now(-1)), batch, "54 L", make.now(-1), purpose="brew")
    typed = {"lines-0-source": "S1", "lines-0-quantity": "6 L", "quantity": "60 L"}
    said = "filled, and no starter in it yet"
    return Doing(f"Add starter: {batch.code}", said, {"batch": batch.code}, typed)


def _planned(by: User) -> Doing:
    make.brew(by, code="K1", when=make.now(-1))
    batch = batches.plan_batch(actor=by, when=make.now(-1), planned=make.quantity("60 L"))
    typed = {"lines-0-source": "K1", "lines-0-quantity": "54 L"}
    said = "planned, 60 L, nothing in it yet"
    return Doing(f"Fill a batch's vessel: {batch.code}", said, {"batch": batch.code}, typed)


def _house_black(by: User, **fields: Any) -> Any:
    """An approved recipe that is bottled at pH 3.2."""
    version = recipes.add_version(
        actor=by,
        recipe=registers.add(actor=by, model=Recipe, name="House black"),
        lines=[recipes.PerLitre("tea", make.quantity("5 g"), make.ingredient(by, "Assam"))],
        target_ph=Decimal("3.2"),
        **fields,
    )
    return recipes.approve(actor=by, version=version)


def _bottling(by: User, batch: Any, says: str) -> Doing:
    make.flavour(by, "Plain")
    make.bottle_format(by, "Brown 330", rating="rated", rated_bar=8)
    typed = {
        "draws-0-quantity": "50 L",
        "outputs-0-flavour": "Plain",
        "outputs-0-format": "Brown 330",
        "outputs-0-count": "150",
        "outputs-0-carbonation": "still",
    }
    knows = {"draws-0-source": batch.code, "draws-0-quantity": "60 L"}
    button = f"Bottling day: {batch.code}"
    return Doing(button, says, knows, typed, through="Write the counts")


def _sour(by: User) -> Doing:
    batch = make.batch(by, when=make.now(-5), recipe=_house_black(by))
    make.reading(by, batch, "3.15", make.now(-1))
    return _bottling(by, batch, "at its pH")


def _forecast(by: User) -> Doing:
    batch = make.batch(by, when=make.now(-8), recipe=_house_black(by))
    for days, value in ((-7, "4.2"), (-4, "3.6"), (-1, "3.25")):
        make.reading(by, batch, value, make.now(days))
    return _bottling(by, batch, "pH 3.2 is reached about")


def _by_its_days(by: User) -> Doing:
    batch = make.batch(by, when=make.now(-9), recipe=_house_black(by, ferment_days=8))
    return _bottling(by, batch, "Day 9 of 8 days as usual")


def _flag(by: User) -> Doing:
    lot = make.ingredient_lot(by, "1 kg", when=make.now(-3))
    make.use(by, lot, make.brew(by, when=make.now(-2)), "2 kg", make.now(-2), purpose="ingredient")
    flag = ReviewFlag.objects.get()
    settled = {"note": "a second bag was open"}
    button = f"Settle it: {lot.code}"
    return Doing(button, "More than the books show", {"flag": str(flag.pk)}, settled, "reviewer")


def _sample(by: User) -> Doing:
    lot = make.bottles(by, 60, when=make.now(-9), carbonation="still")
    stock.adjust(
        actor=by,
        lot=lot,
        quantity=make.quantity("2"),
        why="sample",
        reference="NQ-114",
        when=make.now(-8),
    )
    return Doing(
        f"Write the result: {lot.code}",
        "NQ-114: no result yet",
        {"lot": lot.code, "report_number": "NQ-114"},
        {"value": "0.31", "laboratory": "North Quay", "reason": "the report came today"},
    )


def _recipe(by: User) -> Doing:
    version = make.recipe_version(by, "House green", approved=False)
    knows = {"version": str(version)}
    return Doing(f"Approve it: {version}", "not approved", knows, {}, "manager")


def _feeding(by: User) -> Doing:
    marsh = registers.add(actor=by, model=CultureLine, name="Marsh", feed_every_days=10)
    lot = make.culture(by, "4 L", make.now(-11), marsh)
    typed = {"taken": "4 L", "quantity": "5 L"}
    said = "Marsh: 4 L, as it is since 11 days ago"
    return Doing(f"Feed it: {lot.code}", said, {"culture": lot.code}, typed)


def _low(by: User) -> Doing:
    marsh = make.culture_line(by, "Marsh")
    lot = make.culture(by, "8 L", make.now(-5), marsh)
    make.batch(by, when=make.now(-4), starter=lot)
    typed = {"taken": "2 L", "quantity": "7 L"}
    said = "2 L on hand; its last batch took 6 L"
    return Doing("Feed it: Marsh", said, {"culture": lot.code}, typed)


def _none_left(by: User) -> Doing:
    """The last of a line went into a batch: starter is kept back from that."""
    marsh = make.culture_line(by, "Marsh")
    batch = make.batch(by, when=make.now(-4), starter=make.culture(by, "6 L", make.now(-5), marsh))
    typed = {"batch": batch.code, "quantity": "7 L"}
    return Doing("Keep back starter: Marsh", "nothing left", {"line": "Marsh"}, typed)


def _delivery(by: User) -> Doing:
    lot = make.ingredient_lot(by, "25 kg", when=make.now(-1), accepted=False)
    button = f"Accept it: {lot.code}"
    return Doing(button, "25 kg from Supplier", {"lot": lot.code}, {"reason": "sound, as ordered"})


def _short(by: User) -> Doing:
    recipe = _house_black(by)
    make.ingredient_lot(by, "100 g", Ingredient.objects.get(name="Assam"), make.now(-3))
    for _ in range(2):
        batches.plan_batch(
            actor=by, when=make.now(-1), recipe=recipe, planned=make.quantity("60 L")
        )
    make.supplier(by, "Hill Farm")
    typed = {"quantity": "1 kg", "supplier": "Hill Farm", "accepted": "on"}
    said = "600 g for"
    return Doing("Receive a delivery: Assam", said, {"ingredient": "Assam"}, typed)


def _past_its_date(by: User) -> Doing:
    lot = make.ingredient_lot(by, "2 kg", when=make.now(-90), best_before=_today(-1))
    knows = {"lot": lot.code, "quantity": "2 kg", "why": "expired"}
    return Doing(f"Write it off: {lot.code}", "past its date", knows)


def _near_its_date(by: User) -> Doing:
    lot = make.ingredient_lot(by, "2 kg", when=make.now(-90), best_before=_today(3))
    brew = make.brew(by, when=make.now(-1))
    typed = {"into": brew.code, "quantity": "2 kg", "purpose": "ingredient"}
    return Doing(f"Use it first: {lot.code}", "in 3 days", {"source": lot.code}, typed)


@pytest.mark.parametrize(
    "begin",
    [
        _warm,
        _kept_bottles,
        _no_starter,
        _sour,
        _forecast,
        _by_its_days,
        _planned,
        _flag,
        _sample,
        _recipe,
        _feeding,
        _low,
        _none_left,
        _delivery,
        _short,
        _past_its_date,
        _near_its_date,
    ],
)
def test_a_line_stands_until_its_form_is_sent(
    browse, operator, reviewer, manager, begin: Callable[[User], Doing]
):
    doing = begin(manager)
    person = {"operator": operator, "reviewer": reviewer, "manager": manager}[doing.who]
    browser = browse(person)

    assert doing.says in browser.open(HOME).text
    opened = settle(browser, doing.button, doing.through, **doing.typed)

    assert opened | doing.knows == opened


def test_a_pressure_is_told_with_the_rating_and_never_called_safe(browse, operator, manager):
    _warm(manager)

    page = browse(operator).open(HOME)

    assert "bar at 30 °C if all the sugar ferments" in page.text
    assert "Rated 8.0 bar." in page.text
    assert "Bottles burst" in page.text
    assert "safe" not in page.text


def test_what_stands_in_the_cold_or_is_still_is_not_called_warm(browse, operator, manager):
    cold = make.location(manager, is_cold=True)
    lot = make.bottles(manager, 60, when=make.now(-4))
    make.move(manager, lot, "60", cold, make.now(-1))
    make.bottles(manager, 60, when=make.now(-4), carbonation="still")

    assert "Bottles standing warm" not in browse(operator).open(HOME).text


def test_no_more_is_called_warm_than_is_on_hand(browse, operator, manager):
    room = make.location(manager, "Warm room", kind="warm_room")
    lot = make.bottles(manager, 60, when=make.now(-4))
    make.shipment(manager, lot, "20", when=make.now(-3))
    make.move(manager, lot, "60", room, make.now(-2))

    text = browse(operator).open(HOME).text

    assert f"40 of {lot.describe()}, warm" in text


def test_a_held_batch_is_not_offered_for_bottling(browse, operator, reviewer, manager):
    batch = make.batch(manager, when=make.now(-9), recipe=_house_black(manager, ferment_days=8))
    assert "Ready to bottle" in browse(operator).open(HOME).text

    make.hold(reviewer, batch, when=make.now(-1))

    assert "Ready to bottle" not in browse(operator).open(HOME).text


def test_what_nobody_could_measure_out_is_no_stock_near_its_date(browse, operator, manager):
    lot = make.ingredient_lot(manager, "12 oz", when=make.now(-90), best_before=_today(-1))
    brew = make.brew(manager, when=make.now(-2))
    make.use(manager, lot, brew, "340 g", make.now(-1), purpose="ingredient")

    browser = browse(operator)

    assert lot.code not in browser.open(reverse("today-kind", args=["dates"])).links
    listed = browser.open(reverse("ingredient-lot-list"), stock="yes")
    assert lot.code in listed.links


def test_a_line_with_a_remainder_nobody_could_pour_has_nothing_left(browse, operator, manager):
    marsh = make.culture_line(manager, "Marsh")
    starter = make.culture(manager, "1.5 gal", make.now(-5), marsh)
    make.batch(manager, when=make.now(-4), starter=starter, starter_amount="5.678 L")

    text = browse(operator).open(HOME).text

    assert "nothing left" in text
    assert "on hand; its last batch took 5.678 L" in text
