"""The logo as it is now, above the form that chooses another."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.urls import reverse

from brewlog.forms.base import EntryForm
from brewlog.logo import logo_bytes
from brewlog.middleware import BreweryRequest
from brewlog.models import Brewery
from brewlog.views.panels import Panel


@dataclass(frozen=True)
class LogoNow:
    """The logo that papers carry: its address, '' where its file is gone, and who chose it."""

    name: str
    address: str
    chosen_by: str
    chosen_at: dt.datetime | None


def logo_panel(request: BreweryRequest, form: EntryForm) -> Panel | None:
    """The logo there is, or that there is none; nothing before the brewery is set up."""
    brewery = Brewery.objects.first()
    if brewery is None:
        return None
    name = brewery.logo.name or ""
    address = reverse("record-file", args=["brewery", brewery.pk, "logo"])
    by, at = _chosen(brewery) if name else ("", None)
    return Panel("brewlog/_logo.html", LogoNow(name, address if logo_bytes(name) else "", by, at))


def _chosen(brewery: Brewery) -> tuple[str, dt.datetime | None]:
    """By whom and when the logo there is was chosen: the first of the versions that have it."""
    found: tuple[str, dt.datetime | None] = ("", None)
    for version in brewery.history.select_related("history_user").order_by("-history_id"):
        if version.logo != brewery.logo.name:
            break
        found = (str(version.history_user), version.history_date)
    return found
