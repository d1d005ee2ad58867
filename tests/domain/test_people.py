"""People, their roles, and the brewery."""

from __future__ import annotations

import pytest
from django.core.exceptions import ValidationError

from brewlog.domain import devices, people
from brewlog.domain.people import check_code_pattern
from brewlog.domain.versions import Overtaken, newest_version
from brewlog.models import Brewery, RoleChange, User
from brewlog.recording import Refused
from tests import factories
from tests.factories import at

db = pytest.mark.django_db

NEW = {
    "username": "ines",
    "name": "Ines Prado Vale",
    "role": "operator",
    "password": "salt & tea 9",
}


@db
class TestAddingAPerson:
    def test_gives_them_a_name_a_password_and_one_role(self, manager):
        person = people.add_person(actor=manager, units="us", **NEW)

        person = User.objects.get(pk=person.pk)
        assert (person.get_full_name(), person.role, person.units) == (
            "Ines Prado Vale",
            "operator",
            "us",
        )
        assert person.check_password("salt & tea 9")
        assert person.has_perm("brewlog.record_production")
        change = RoleChange.objects.get()
        assert (change.person, change.role_before, change.role_after) == (person, "", "operator")
        assert change.history.get().history_user == manager

    def test_is_for_managers(self, reviewer):
        with pytest.raises(Refused, match="Only a manager"):
            people.add_person(actor=reviewer, **NEW)

        assert User.objects.count() == 1

    @pytest.mark.parametrize(
        ("fields", "words"),
        [
            ({"username": "INES"}, "is taken"),
            ({"username": "in es"}, "valid username"),
            ({"name": " "}, "Write the name"),
            ({"password": "password1"}, "too common"),
            ({"password": "abc"}, "too short"),
            ({"role": "owner"}, "not a valid choice"),
        ],
    )
    def test_that_cannot_be_leaves_nobody_behind(self, manager, fields, words):
        people.add_person(actor=manager, **NEW)
        given = NEW | {"username": "tiago"} | fields

        with pytest.raises(ValidationError, match=words):
            people.add_person(actor=manager, **given)

        assert User.objects.count() == 2
        assert RoleChange.objects.count() == 1


@db
class TestTheFirstManager:
    def test_records_themselves(self):
        person = people.first_manager(username="ines", name="Ines Prado", password="salt & tea 9")

        assert person.role == "manager"
        row = RoleChange.objects.get().history.get()
        assert (row.history_user, row.history_change_reason) == (person, "the first manager")

    def test_is_refused_where_there_is_one(self, manager):
        with pytest.raises(Refused, match="There is a manager already"):
            people.first_manager(username="ines", name="Ines Prado", password="salt & tea 9")


@db
class TestRoles:
    def test_change_with_a_reason_that_is_kept(self, manager, operator):
        people.change_role(actor=manager, person=operator, role="reviewer", reason="trained in May")

        person = User.objects.get(pk=operator.pk)
        assert person.role == "reviewer"
        assert person.has_perm("brewlog.review_lots")
        change = RoleChange.objects.get()
        assert (change.role_before, change.role_after) == ("operator", "reviewer")
        assert change.history.get().history_change_reason == "trained in May"

    def test_are_not_changed_to_the_same_without_reason_or_by_others(self, manager, operator):
        fields = {"person": operator, "role": "reviewer"}

        with pytest.raises(Refused, match="Say why"):
            people.change_role(actor=manager, reason=" ", **fields)
        with pytest.raises(Refused, match="operator already"):
            people.change_role(actor=manager, person=operator, role="operator", reason="same")
        with pytest.raises(Refused, match="Only a manager"):
            people.change_role(actor=operator, reason="I want to", **fields)

        assert RoleChange.objects.count() == 0

    def test_the_last_active_manager_stays(self, manager):
        gone = factories.person("manager")
        people.deactivate(actor=manager, person=gone, reason="moved away")

        with pytest.raises(Refused, match="is the last manager"):
            people.change_role(actor=manager, person=manager, role="operator", reason="tired")
        with pytest.raises(Refused, match="is the last manager"):
            people.deactivate(actor=manager, person=manager, reason="tired")
        other = factories.person("manager")
        people.change_role(actor=manager, person=manager, role="operator", reason="tired")

        assert other.role == "manager"
        assert User.objects.get(pk=manager.pk).role == "operator"


@db
class TestLeavingAndComingBack:
    def test_someone_who_leaves_cannot_log_in_and_keeps_their_records(
        self, client, manager, operator
    ):
        lot = factories.ingredient_lot(operator)

        people.deactivate(actor=manager, person=operator, reason="moved away")

        assert not client.login(username=operator.username, password="living culture 7")
        lot.refresh_from_db()
        assert lot.recorded_by == operator
        assert User.objects.get(pk=operator.pk).role == ""
        change = RoleChange.objects.get()
        assert (change.role_before, change.role_after) == ("operator", "")

    def test_someone_comes_back_with_a_role(self, manager, operator):
        people.deactivate(actor=manager, person=operator, reason="moved away")

        people.reactivate(actor=manager, person=operator, role="reviewer", reason="back again")

        person = User.objects.get(pk=operator.pk)
        assert (person.is_active, person.role) == (True, "reviewer")

    def test_neither_happens_twice(self, manager, operator):
        fields = {"actor": manager, "person": operator, "reason": "a mistake"}

        with pytest.raises(Refused, match="is active already"):
            people.reactivate(role="operator", **fields)
        people.deactivate(**fields)
        with pytest.raises(Refused, match="not active already"):
            people.deactivate(**fields)
        with pytest.raises(Refused, match="Take them back first"):
            people.change_role(role="reviewer", **fields)


@db
def test_everyone_chooses_their_units(inspector):
    people.set_units(actor=inspector, units="us")

    assert User.objects.get(pk=inspector.pk).units == "us"
    with pytest.raises(Refused, match="Choose metric or US"):
        people.set_units(actor=inspector, units="stones")


@db
class TestTheBrewery:
    def test_is_set_up_once(self, manager):
        found = people.set_up_brewery(
            actor=manager, name="Saltmarsh Ferments", time_zone="Europe/Lisbon"
        )

        found.refresh_from_db()
        assert (found.name, found.time_zone) == ("Saltmarsh Ferments", "Europe/Lisbon")
        assert found.history.get().history_user == manager
        with pytest.raises(Refused, match="set up already"):
            people.set_up_brewery(actor=manager, name="Another")

    def test_is_written_down_and_written_again_by_the_same_entry(self, manager):
        people.write_brewery(actor=manager, reason="new here", name="Saltmarsh")
        people.write_brewery(actor=manager, reason="the full name", name="Saltmarsh Ferments")

        rows = Brewery.objects.get().history.order_by("history_id")
        assert [(row.name, row.history_change_reason) for row in rows] == [
            ("Saltmarsh", "new here"),
            ("Saltmarsh Ferments", "the full name"),
        ]

    def test_is_changed_with_a_reason(self, manager, brewery):
        people.change_brewery(
            actor=manager,
            reason="we moved",
            address="2 Pan Lane",
            lot_code_pattern="{yyyy}-{day}{run}",
        )

        lot = factories.ingredient_lot(manager, when=at(5))
        assert lot.code == "2026-064A"
        last = Brewery.objects.get().history.first()
        assert (last.address, last.history_change_reason) == ("2 Pan Lane", "we moved")

    def test_is_not_written_over_what_another_manager_wrote_since_it_was_shown(
        self, manager, brewery
    ):
        seen = newest_version(brewery)
        shown = {"address": brewery.address, "phone": brewery.phone}
        people.change_brewery(actor=manager, reason="we moved", seen=seen, address="2 Pan Lane")

        changed = people.change_brewery(
            actor=manager, reason="new line", seen=seen, **shown | {"phone": "555 0101"}
        )
        with pytest.raises(Overtaken, match="wrote “2 Pan Lane” here at"):
            people.change_brewery(actor=manager, reason="x", seen=seen, address="3 Pan Lane")

        assert (changed.address, changed.phone) == ("2 Pan Lane", "555 0101")
        assert Brewery.objects.get().address == "2 Pan Lane"

    def test_is_left_alone_where_nothing_is_different(self, manager, brewery):
        with pytest.raises(Refused, match="Nothing is different"):
            people.change_brewery(
                actor=manager, reason="x", seen=newest_version(brewery), name=brewery.name
            )

    @pytest.mark.parametrize(
        ("fields", "words"),
        [
            ({"time_zone": "Lisbon"}, "is not a time zone"),
            ({"lot_code_pattern": "{kind}"}, "needs {run}"),
            ({"name": ""}, "cannot be blank"),
        ],
    )
    def test_that_cannot_be_is_refused(self, manager, brewery, fields, words):
        with pytest.raises(ValidationError, match=words):
            people.change_brewery(actor=manager, reason="a slip", **fields)

        assert Brewery.objects.get().history.count() == 1

    def test_is_for_managers(self, reviewer, brewery):
        with pytest.raises(Refused, match="Only a manager"):
            people.change_brewery(actor=reviewer, reason="nicer", name="Mine")


class TestLotCodePatterns:
    @pytest.mark.parametrize(
        ("pattern", "example"),
        [
            ("{kind}{yy}{day}{run}", "B26365AA"),
            ("{yyyy}-{mm}-{dd}/{run}", "2026-12-31/AA"),
            ("SM.{day}{run}", "SM.365AA"),
        ],
    )
    def test_that_work_show_an_example(self, pattern, example):
        assert check_code_pattern(pattern) == example

    @pytest.mark.parametrize(
        ("pattern", "words"),
        [
            ("", "needs {run}"),
            ("{kind}{yy}{day}", "needs {run}"),
            ("{kind}{yy}{run}", "needs the day"),
            ("{kind}{dd}{run}", "needs the day"),
            ("{kind}{day}{run", "a brace too many or too few"),
            ("{day}{run}{colour}", "knows {kind}"),
            ("{kind.__class__}{day}{run}", "knows {kind}"),
            ("{day:>40}{run}", "knows {kind}"),
            ("{day!r}{run}", "knows {kind}"),
            ("{}{day}{run}", "knows {kind}"),
            ("{day} {run}", "letters, figures, hyphens"),
            ("SALTMARSH-BREWERY-{day}{run}", "longer than the 20 characters"),
        ],
    )
    def test_that_cannot_work_are_refused(self, pattern, words):
        with pytest.raises(Refused, match=words):
            check_code_pattern(pattern)


@db
class TestGivingAPassword:
    def test_lets_someone_in_by_the_new_one_only(self, manager, operator):
        people.give_password(actor=manager, person=operator, password="salt & tea 9")

        operator = User.objects.get(pk=operator.pk)
        assert operator.check_password("salt & tea 9")
        assert not operator.check_password("living culture 7")

    def test_is_for_managers(self, reviewer, operator):
        with pytest.raises(Refused, match="Only a manager"):
            people.give_password(actor=reviewer, person=operator, password="salt & tea 9")

    def test_asks_for_one_of_their_own_until_they_chose_it(self, manager, operator):
        people.give_password(actor=manager, person=operator, password="salt & tea 9")
        assert User.objects.get(pk=operator.pk).password_standing == "given, to be changed"

        people.change_password(actor=operator, current="salt & tea 9", password="quay at dawn")

        operator = User.objects.get(pk=operator.pk)
        assert operator.password_standing == "their own"
        assert operator.check_password("quay at dawn")

    def test_does_not_take_back_somebody_who_left_meanwhile(self, manager, operator):
        loaded_before = User.objects.get(pk=operator.pk)
        people.deactivate(actor=manager, person=operator, reason="moved away")

        with pytest.raises(Refused, match="has left"):
            people.give_password(actor=manager, person=loaded_before, password="salt & tea 9")

        assert not User.objects.get(pk=operator.pk).is_active

    def test_is_not_how_one_changes_ones_own(self, manager):
        with pytest.raises(Refused, match="on your own page"):
            people.give_password(actor=manager, person=manager, password="salt & tea 9")

    @pytest.mark.parametrize(
        ("current", "password", "words"),
        [
            ("living culture 8", "quay at dawn", "not the password you log in with"),
            ("living culture 7", "living culture 7", "Choose another"),
            ("living culture 7", "short", "too short"),
        ],
    )
    def test_ones_own_is_changed_with_the_one_in_use(self, operator, current, password, words):
        with pytest.raises(Refused, match=words):
            people.change_password(actor=operator, current=current, password=password)

        assert User.objects.get(pk=operator.pk).check_password("living culture 7")

    def test_refuses_a_weak_one(self, manager, operator):
        with pytest.raises(Refused, match="too common"):
            people.give_password(actor=manager, person=operator, password="password1")

        assert User.objects.get(pk=operator.pk).check_password("living culture 7")


@db
@pytest.mark.parametrize("pin", ["123", "1234", "9876", "0000", "12 45", "pin1", "٢٥٨٠", "1" * 13])
def test_a_pin_that_is_short_or_guessed_first_is_refused(operator, pin):
    with pytest.raises(Refused) as refusal:
        people.set_pin(actor=operator, current="living culture 7", pin=pin, again=pin)

    assert list(refusal.value.message_dict) == ["pin"]
    operator.refresh_from_db()
    assert operator.pin == ""


@db
def test_only_a_manager_shares_a_device(operator):
    with pytest.raises(Refused, match="Only a manager"):
        devices.share_device(actor=operator, name="Tablet")
