"""Forms of flavours, formats and bottling."""

from __future__ import annotations

from decimal import Decimal

import pytest

from brewlog.entries import BY_SLUG
from brewlog.forms.bottling import FlavourForm, OutputForm
from tests import factories
from tests.forms.sending import sent

pytestmark = pytest.mark.django_db


class TestFlavours:
    def test_get_the_usual_days_storage_and_label_name(self, operator):
        form = sent(FlavourForm, operator, {"name": "Ginger"})

        assert form.is_valid(), form.errors
        found = BY_SLUG["flavour"].verb(actor=operator, **form.cleaned_data)
        assert (found.label_name, found.best_before_days, found.storage) == (
            "Ginger",
            90,
            "Keep refrigerated",
        )

    def test_check_the_digit_of_their_gtin(self, operator):
        # 952 is the prefix GS1 keeps for demonstrations.
        good = sent(FlavourForm, operator, {"name": "Ginger", "gtin": "9520123456788"})
        bad = sent(FlavourForm, operator, {"name": "Ginger", "gtin": "9520123456780"})

        assert good.is_valid()
        assert good.cleaned_data["gtin"] == "09520123456788"
        assert list(bad.errors) == ["gtin"]


def test_a_format_reaches_the_register(manager):
    data = {"name": "330 brown", "container": "bottle", "holds": "330 mL", "rating": "rated"}
    form = sent(BY_SLUG["format"].form, manager, data | {"rated_bar": "8"})

    assert form.is_valid(), form.errors
    found = BY_SLUG["format"].verb(actor=manager, **form.cleaned_data)
    assert (found.holds, found.holds_text, found.rated_bar) == (330_000, "330 mL", Decimal(8))


def test_a_fill_without_a_unit_is_in_millilitres(operator):
    form = OutputForm(
        {
            "flavour": factories.flavour(operator).name,
            "format": factories.bottle_format(operator).name,
            "count": "100",
            "fill": "328",
        },
        actor=operator,
    )

    assert form.is_valid(), form.errors
    assert (form.cleaned_data["fill"].canonical, form.cleaned_data["fill"].text) == (
        328_000,
        "328 mL",
    )


def test_a_bottling_row_reaches_the_record(operator):
    batch = factories.batch(operator, "60 L")
    data = {
        "when": "2026-03-20",
        "batch": batch.code,
        "drawn": "35 L",
        "flavour": factories.flavour(operator).name,
        "format": factories.bottle_format(operator).name,
        "count": "100",
        "code": "1024.0",
        "carbonation": "in the bottle",
    }
    form = sent(BY_SLUG["bottle-one"].form, operator, data)

    assert form.is_valid(), form.errors
    found = BY_SLUG["bottle-one"].verb(actor=operator, **form.cleaned_data)
    assert (found.code, found.made, found.carbonation) == ("1024", 100, "natural")
