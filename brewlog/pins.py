"""Taking over a shared device with a PIN, as one way of logging in."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.backends import ModelBackend
from django.contrib.auth.hashers import check_password
from django.http import HttpRequest

from brewlog.models import User

# Wrong ones in a row until the person has to wait: of ten thousand PINs few are tried.
MOST_WRONG_PINS = 5
MOST_WRONG_PASSWORDS = 10


class PinBackend(ModelBackend):
    """By a PIN, on a shared device only."""

    def authenticate(  # type: ignore[override]
        self, request: HttpRequest | None, username: str, pin_password: str
    ) -> User | None:
        if getattr(request, "device", None) is None:
            return None
        person = User.objects.filter(username=username, is_active=True).exclude(pin="").first()
        return person if person and check_password(pin_password, person.pin) else None


def failure_limit(request: HttpRequest, credentials: dict[str, Any] | None) -> int:
    """How many wrong tries stop a person on an address for a quarter of an hour."""
    by_pin = "pin_password" in (credentials or {})
    return MOST_WRONG_PINS if by_pin else MOST_WRONG_PASSWORDS
