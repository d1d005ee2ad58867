"""The people who record, their roles, and the brewery they record for."""

from __future__ import annotations

import re
import string
from itertools import pairwise
from typing import Any

from django.contrib.auth.hashers import make_password
from django.contrib.auth.models import Group
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.core.files.uploadedfile import UploadedFile

from brewlog.domain.lots import save_new
from brewlog.domain.versions import write_over
from brewlog.logo import as_logo
from brewlog.models import CODE_LETTER, Brewery, LotKind, Role, RoleChange, User
from brewlog.recording import Refused, recording

# Few enough to be typed with wet hands; wrong ones are counted (views/who.py).
LEAST_FIGURES, MOST_FIGURES = 4, 12
_MAY_MANAGE = "brewlog.manage_brewery"
# What `next_code` fills in, with the longest each can be.
_CODE_PARTS = {
    "kind": CODE_LETTER[LotKind.BATCH],
    "yy": "26",
    "yyyy": "2026",
    "mm": "12",
    "dd": "31",
    "day": "365",
    "run": "AA",
}
# A lot code in a GS1 barcode is at most 20 characters long (GS1 General Specifications,
# application identifier 10).
_LONGEST_CODE = 20


def first_manager(*, username: str, name: str, password: str) -> User:
    """Make the first manager of a new installation. Raises `Refused` where there is one."""
    person = _new_person(username, name, password)
    with recording(person, "the first manager"):
        if _active_managers().exists():
            raise Refused("There is a manager already. Ask them to add you.")
        person.save()
        _give(person, Role.MANAGER)
        return person


def add_person(
    *,
    actor: User,
    username: str,
    name: str,
    role: str,
    password: str = "",
    email: str = "",
    units: str = User.UnitSystem.METRIC,
    date_order: str = "",
) -> User:
    """Add someone who records or reads, with a role and a first password, which they change at
    their first log-in. Without one they cannot log in until a manager gives them one.

    Raises `Refused` for someone who does not manage, and `ValidationError` by field for
    a taken user name or a weak password.
    """
    refuse_who_does_not_manage(actor)
    person = _new_person(
        username,
        name,
        password,
        email=email,
        units=units,
        date_order=date_order,
        must_change_password=True,
    )
    with recording(actor):
        person.save()
        _give(person, role)
        return person


def _new_person(username: str, name: str, password: str, **fields: Any) -> User:
    first, _, last = " ".join(name.split()).partition(" ")
    if not first:
        raise Refused({"name": "Write the name that stands on papers."})
    tidy = username.strip()
    if User.objects.filter(username__iexact=tidy).exists():
        raise Refused({"username": f"The user name {tidy} is taken. Choose another."})
    person = User(username=tidy, first_name=first, last_name=last, **fields)
    if password:
        _set_password(person, password)
    else:
        person.set_unusable_password()
    person.clean_fields()
    return person


def _set_password(person: User, password: str) -> None:
    try:
        validate_password(password, person)
    except ValidationError as error:
        raise Refused({"password": error.messages}) from None
    person.set_password(password)


def change_role(*, actor: User, person: User, role: str, reason: str) -> User:
    """Give someone another role. The last active manager keeps theirs."""
    refuse_who_does_not_manage(actor)
    _refuse_without_reason(reason)
    with recording(actor, reason):
        person.refresh_from_db()
        if not person.is_active:
            raise Refused({"person": f"{person} is not active. Take them back first, with a role."})
        if person.role == role:
            held = Role(role).label.split(":")[0].lower()
            raise Refused({"role": f"{person} is {held} already."})
        _refuse_last_manager(person)
        _give(person, role)
        return person


def deactivate(*, actor: User, person: User, reason: str) -> User:
    """Someone leaves: they cannot log in any more. What they recorded stays theirs."""
    refuse_who_does_not_manage(actor)
    _refuse_without_reason(reason)
    with recording(actor, reason):
        person.refresh_from_db()
        if not person.is_active:
            raise Refused({"person": f"{person} is not active already."})
        _refuse_last_manager(person)
        person.is_active = False
        person.save(update_fields=["is_active"])
        _give(person, "")
        return person


def reactivate(*, actor: User, person: User, role: str, reason: str) -> User:
    """Someone comes back, with a role. Their password is the one they had."""
    refuse_who_does_not_manage(actor)
    _refuse_without_reason(reason)
    with recording(actor, reason):
        person.refresh_from_db()
        if person.is_active:
            raise Refused({"person": f"{person} is active already."})
        person.is_active = True
        person.save(update_fields=["is_active"])
        _give(person, role)
        return person


def give_password(*, actor: User, person: User, password: str, must_change: bool = True) -> User:
    """Give someone a new password: who was read from a sheet, or who forgot theirs. They choose
    their own at the next log-in.

    Raises `ValidationError` by field for a weak one, for one's own, or for who has left.
    """
    refuse_who_does_not_manage(actor)
    if person.pk == actor.pk:
        raise Refused({"person": "Your own you change on your own page, with the one you have."})
    with recording(actor):
        person.refresh_from_db()
        if not person.is_active:
            raise Refused({"person": f"{person} has left. Take them back first, with a role."})
        return _write_password(person, password, must_change)


def change_password(*, actor: User, current: str, password: str) -> User:
    """Choose one's own password, with the one in use. Raises `ValidationError` by field."""
    with recording(actor):
        actor.refresh_from_db()
        if not actor.check_password(current):
            raise Refused({"current": "That is not the password you log in with."})
        if password == current:
            raise Refused({"password": "That is the one you have. Choose another."})
        return _write_password(actor, password, must_change=False)


def _write_password(person: User, password: str, must_change: bool) -> User:
    _set_password(person, password)
    person.must_change_password = must_change
    person.save(update_fields=["password", "must_change_password"])
    return person


def set_pin(*, actor: User, current: str, pin: str, again: str) -> User:
    """Choose the PIN one takes over a shared device with. It signs nothing.

    Raises `Refused` by field for a wrong password, or a PIN that is too short, guessed first or
    typed differently the second time.
    """
    if not (pin.isascii() and pin.isdecimal() and LEAST_FIGURES <= len(pin) <= MOST_FIGURES):
        raise Refused({"pin": f"Write {LEAST_FIGURES} to {MOST_FIGURES} figures."})
    if again != pin:
        raise Refused({"again": "The two are not the same. Type the PIN twice."})
    steps = {int(after) - int(before) for before, after in pairwise(pin)}
    if steps in ({0}, {1}, {-1}):
        raise Refused({"pin": "That is among the first that are tried. Choose another."})
    with recording(actor):
        actor.refresh_from_db()
        if not actor.check_password(current):
            raise Refused({"current": "That is not the password you log in with."})
        actor.pin = make_password(pin)
        actor.save(update_fields=["pin"])
        return actor


def set_units(*, actor: User, units: str, date_order: str = "") -> User:
    """Choose the units and the order of dates one reads in. What others typed stays as typed."""
    if units not in User.UnitSystem.values:
        raise Refused({"units": "Choose metric or US customary."})
    with recording(actor):
        actor.units = units
        actor.date_order = date_order
        actor.save(update_fields=["units", "date_order"])
        return actor


def _give(person: User, role: str) -> None:
    """Hold exactly that role, or none, and write the change down."""
    before = person.role
    person.groups.set(Group.objects.filter(name=role) if role else [])
    save_new(RoleChange(person=person, role_before=before, role_after=role))


def _active_managers() -> Any:
    return User.objects.filter(is_active=True, groups__name=Role.MANAGER)


def _refuse_last_manager(person: User) -> None:
    """Asked under the write lock: two managers must not remove each other at once."""
    if person.role != Role.MANAGER:
        return
    if not _active_managers().exclude(pk=person.pk).exists():
        raise Refused(
            {"person": f"{person} is the last manager. Make someone else a manager first."}
        )


def refuse_who_does_not_manage(actor: User) -> None:
    if not actor.has_perm(_MAY_MANAGE):
        raise Refused("Only a manager can do this. Ask one.")


def _refuse_without_reason(reason: str) -> None:
    if not reason.strip():
        raise Refused({"reason": "Say why."})


# The brewery -----------------------------------------------------------------------------


def write_brewery(
    *, actor: User, reason: str = "", seen: int | None = None, **fields: Any
) -> Brewery:
    """Set the brewery up where it is not, change it where it is."""
    if Brewery.objects.exists():
        return change_brewery(actor=actor, reason=reason, seen=seen, **fields)
    return set_up_brewery(actor=actor, reason=reason, **fields)


def set_up_brewery(*, actor: User, name: str, reason: str = "", **fields: Any) -> Brewery:
    """Write down the brewery, once. `fields` are those of `Brewery` by name."""
    refuse_who_does_not_manage(actor)
    with recording(actor, reason):
        if Brewery.objects.exists():
            raise Refused("The brewery is set up already. Change what is not right.")
        found = Brewery(pk=1, name=name, **fields)
        check_code_pattern(found.lot_code_pattern)
        save_new(found)
        return found


def change_brewery(*, actor: User, reason: str, seen: int | None = None, **fields: Any) -> Brewery:
    """Change the brewery's name, place, clock or habits. Lots keep the codes they have.

    With `seen`, the version that was shown, only what differs from that is written. Raises
    `Overtaken` where somebody else wrote the same fields since.
    """
    refuse_who_does_not_manage(actor)
    _refuse_without_reason(reason)
    with recording(actor, reason):
        found = Brewery.objects.first()
        if found is None:
            raise Refused("The brewery is not set up yet.")
        write_over(found, seen, fields)
        check_code_pattern(found.lot_code_pattern)
        found.clean_fields(exclude=["recorded_at", "recorded_by", "voided_by"])
        found.save()
        return found


def set_logo(
    *, actor: User, reason: str, logo: UploadedFile | None = None, take_off: bool = False
) -> Brewery:
    """Choose the logo that papers and labels printed from now on carry, or take it off.

    Earlier ones stay: the history names them, and printed labels are drawn with theirs.
    """
    refuse_who_does_not_manage(actor)
    _refuse_without_reason(reason)
    if not logo and not take_off:
        raise Refused({"logo": "Choose a picture, or say that papers go without one."})
    if logo and take_off:
        raise Refused({"take_off": "Choose a picture, or go without one: not both."})
    kept = as_logo(logo) if logo else None
    with recording(actor, reason):
        found = Brewery.objects.first()
        if found is None:
            raise Refused("The brewery is not set up yet.")
        found.logo = _stored(f"logo/{kept.name}", kept) if kept else ""
        found.save()
        return found


def _stored(name: str, content: ContentFile) -> str:
    """A file that is named by its content: kept once."""
    return name if default_storage.exists(name) else default_storage.save(name, content)


def check_code_pattern(pattern: str) -> str:
    """A code of the pattern, as an example. Raises `Refused` for one that cannot work.

    It holds {run}, so that lots of one day differ, and a day ({day}, or {mm} and {dd});
    the rest is letters, figures, hyphens, points and slashes.
    """
    try:
        parts = list(string.Formatter().parse(pattern))
    except ValueError:
        raise _bad_pattern("has a brace too many or too few") from None
    for literal, name, spec, conversion in parts:
        if not re.fullmatch(r"[A-Za-z0-9./-]*", literal):
            raise _bad_pattern("may hold letters, figures, hyphens, points and slashes only")
        if name is not None and (name not in _CODE_PARTS or spec or conversion):
            known = ", ".join("{" + each + "}" for each in _CODE_PARTS)
            raise _bad_pattern(f"knows {known} only")
    names = {name for _, name, _, _ in parts}
    if "run" not in names:
        raise _bad_pattern("needs {run}, so that lots of one day differ")
    if "day" not in names and not {"mm", "dd"} <= names:
        raise _bad_pattern("needs the day: {day}, or {mm} and {dd}")
    example = pattern.format(**_CODE_PARTS)
    if len(example) > _LONGEST_CODE:
        raise _bad_pattern(
            f"gives {example}, which is longer than the {_LONGEST_CODE} characters of a barcode"
        )
    return example


def _bad_pattern(why: str) -> Refused:
    return Refused(
        {"lot_code_pattern": f"The pattern {why}. Write one like {{kind}}{{yy}}{{day}}{{run}}."}
    )
