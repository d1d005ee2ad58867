"""Forms of people and the brewery."""

from __future__ import annotations

import pytest

from brewlog.entries import BY_SLUG
from brewlog.forms.people import BreweryForm, PersonForm, ReturnForm, RoleForm, UnitsForm
from tests import factories
from tests.forms.sending import sent

pytestmark = pytest.mark.django_db


class TestPeople:
    def test_a_password_keeps_its_spaces(self, manager):
        data = {"username": "ines", "name": "Ines Prado", "role": "operator", "units": "metric"}
        form = sent(PersonForm, manager, data | {"password": " salt & tea 9 "})

        assert form.is_valid(), form.errors
        assert form.cleaned_data["password"] == " salt & tea 9 "

    def test_only_those_who_left_can_come_back(self, manager, operator):
        left = factories.person("operator")
        BY_SLUG["deactivate"].verb(actor=manager, person=left, reason="moved away")

        offered = {
            form: set(form(actor=manager).fields["person"].queryset)
            for form in (RoleForm, ReturnForm)
        }

        assert offered == {RoleForm: {manager, operator}, ReturnForm: {left}}

    @pytest.mark.parametrize(
        ("typed", "zone"), [("lisbon", "Europe/Lisbon"), ("New York", "America/New_York")]
    )
    def test_a_city_is_enough_to_name_the_time_zone(self, manager, typed, zone):
        form = sent(BreweryForm, manager, {"time_zone": typed})

        assert form.errors.get("time_zone") is None
        assert form.cleaned_data["time_zone"] == zone

    @pytest.mark.parametrize(
        ("typed", "words"),
        [("Portuga", "Write a big city near you"), ("Louisville", "Kentucky/Louisville or")],
    )
    def test_a_time_zone_that_cannot_be_told_is_asked_again(self, manager, typed, words):
        assert words in str(sent(BreweryForm, manager, {"time_zone": typed}).errors["time_zone"])

    def test_the_brewery_is_shown_as_it_stands(self, manager, brewery):
        form = BreweryForm(actor=manager, brewery=brewery)
        new = BreweryForm(actor=manager, brewery=None)

        assert (form["name"].initial, form["time_zone"].initial) == (
            "Saltmarsh Ferments",
            "Europe/Lisbon",
        )
        assert (new["name"].initial, new["lot_code_pattern"].initial) == (
            "",
            "{kind}{yy}{day}{run}",
        )

    def test_units_are_shown_as_they_are(self, operator):
        assert UnitsForm(actor=operator)["units"].initial == "metric"
