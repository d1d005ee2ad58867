"""The shared device a request comes from, and how long nobody touched it."""

from __future__ import annotations

import time
from collections.abc import Callable

from django.conf import settings
from django.contrib.auth import logout
from django.http import HttpRequest, HttpResponse

from brewlog.domain.devices import live_device
from brewlog.models import SharedDevice

_COOKIE = "shared-device"
_FIVE_YEARS = 5 * 365 * 24 * 3600
_SEEN = "last-seen"
# The session is written no more often than so: each time is a write.
_SECONDS = 20


def mark_device(response: HttpResponse, device: SharedDevice) -> None:
    """Let the device know itself from now on. The cookie is signed: none can be made up."""
    response.set_signed_cookie(
        _COOKIE,
        str(device.pk),
        max_age=_FIVE_YEARS,
        httponly=True,
        samesite="Lax",
        secure=settings.SESSION_COOKIE_SECURE,
    )


def device_of(request: HttpRequest) -> SharedDevice | None:
    """The shared device that asks; None for any other, and for one shared no longer."""
    if _COOKIE not in request.COOKIES:
        return None
    key = request.get_signed_cookie(_COOKIE, default="")
    return live_device(int(key)) if key else None


class SharedDeviceMiddleware:
    """Put the device on the request, and log out whoever left it alone too long."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        device = device_of(request)
        request.device = device  # type: ignore[attr-defined]
        request.left_by = ""  # type: ignore[attr-defined]
        if device is not None and request.user.is_authenticated:
            now = int(time.time())
            seen = request.session.get(_SEEN, now)
            if now - seen >= device.idle_minutes * 60:
                request.left_by = request.user.get_username()  # type: ignore[attr-defined]
                logout(request)
            elif _SEEN not in request.session or now - seen >= _SECONDS:
                request.session[_SEEN] = now
        return self.get_response(request)
