"""The four roles: what each may do, and that a migration puts them right again."""

from __future__ import annotations

import pytest
from django.contrib.auth.models import Group, Permission

from brewlog.models import Role, User
from brewlog.roles import PERMISSIONS, ensure_roles
from tests import factories

ALLOWED = [
    # role, records, reviews, manages, reads
    ("operator", True, False, False, True),
    ("reviewer", True, True, False, True),
    ("manager", True, True, True, True),
    ("inspector", False, False, False, True),
]


@pytest.mark.parametrize(("role", "records", "reviews", "manages", "reads"), ALLOWED)
def test_a_role_may_do_this_and_no_more(db, role, records, reviews, manages, reads):
    person = factories.person(role)
    assert person.role == role
    assert person.has_perm("brewlog.record_production") is records
    assert person.has_perm("brewlog.review_lots") is reviews
    assert person.has_perm("brewlog.manage_brewery") is manages
    assert person.has_perm("brewlog.read_records") is reads
    assert len(person.get_all_permissions()) == [records, reviews, manages, reads].count(True)


def test_every_role_that_can_be_given_has_its_permissions():
    assert set(PERMISSIONS) == set(Role.values)


def test_someone_without_a_role_may_do_nothing(db):
    person = User.objects.create_user("guest")
    assert person.role == ""
    assert person.get_all_permissions() == set()


def test_someone_who_left_may_do_nothing(operator):
    operator.is_active = False
    operator.save()
    assert not User.objects.get(pk=operator.pk).has_perm("brewlog.record_production")


def test_a_role_that_drifted_is_put_right(db):
    inspector = Group.objects.get(name="inspector")
    inspector.permissions.add(Permission.objects.get(codename="record_production"))
    inspector.permissions.add(Permission.objects.get(codename="delete_user"))
    Group.objects.get(name="operator").delete()

    ensure_roles()

    found = {
        group.name: set(group.permissions.values_list("codename", flat=True))
        for group in Group.objects.all()
    }
    assert found == PERMISSIONS
