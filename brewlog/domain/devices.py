"""Devices that are shared on the floor: made so by a manager."""

from __future__ import annotations

from brewlog.domain import registers
from brewlog.domain.people import refuse_who_does_not_manage
from brewlog.models import SharedDevice, User


def share_device(*, actor: User, name: str, idle_minutes: int = 10, note: str = "") -> SharedDevice:
    """Let people change on a device by a tap and a PIN.

    Raises `Refused` for someone who does not manage.
    """
    refuse_who_does_not_manage(actor)
    return registers.add(
        actor=actor, model=SharedDevice, name=name, idle_minutes=idle_minutes, note=note
    )


def live_device(key: int) -> SharedDevice | None:
    """The shared device of that key; None where it is shared no longer."""
    return SharedDevice.objects.live().filter(pk=key, in_use=True).first()
