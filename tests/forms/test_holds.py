"""Forms of holding and settling."""

from __future__ import annotations

import pytest

from brewlog.forms.holds import SettleForm
from tests import factories
from tests.forms.sending import sent

pytestmark = pytest.mark.django_db


def test_what_needs_a_look_is_settled_by_its_number(operator, reviewer):
    lot = factories.bottles(operator, 10)
    factories.shipment(operator, lot, "12")
    flag = lot.flags.get()

    form = sent(SettleForm, reviewer, {"flag": str(flag.pk), "note": "miscounted"})
    unknown = sent(SettleForm, reviewer, {"flag": "x1", "note": "miscounted"})

    assert form.is_valid(), form.errors
    assert form.cleaned_data["flag"] == flag
    assert list(unknown.errors) == ["flag"]
