"""What `manage.py benchmark` measures of the limits: the list over every open lot."""

from __future__ import annotations

from typing import cast

from django.test import RequestFactory
from django.urls import reverse

from brewlog.management.measuring import OURS, Question
from brewlog.middleware import BreweryRequest
from brewlog.models import Brewery, User
from compliance.domain.keeping import kept_up_to
from compliance.views.findings import findings

# Server time of any page with ten years of a small plant's records.
_LIMIT_MS = 100


def questions() -> list[Question]:
    """The first page of what needs a look; nothing before anything was kept for it."""
    if kept_up_to() is None:
        return []
    return [Question("page of what needs a look", {OURS: _rows}, limit_ms=_LIMIT_MS)]


def _rows() -> list[bytes]:
    """The rows of the page, as a reader gets it."""
    request = cast(BreweryRequest, RequestFactory().get(reverse("findings")))
    request.user = User(pk=0, is_superuser=True)
    request.brewery = Brewery.objects.first()
    return findings(request).content.split(b"<tr")[1:]
