"""The list of the brewery's holidays."""

from __future__ import annotations

from brewlog.views.events import RecordLink
from brewlog.views.lists import Column, Filter, Listing, get
from brewlog.views.nouns.parts import HAVE, VOIDED
from compliance.models import Holiday

HOLIDAYS = Listing(
    noun="holiday",
    path="holidays",
    title="Holidays",
    group=HAVE,
    queryset=lambda: Holiday.objects.all(),
    columns=(
        Column("day", "Day", lambda each: RecordLink(each.day, each), "day"),
        Column("weekday", "Weekday", lambda each: f"{each.day:%A}"),
        Column("name", "Name", get("name"), "name"),
    ),
    search=("name",),
    filters=(
        Filter(
            "year",
            "Year",
            lambda: [
                (str(each.year), str(each.year)) for each in Holiday.objects.dates("day", "year")
            ],
            lambda rows, value: rows.filter(day__year=value) if value.isdigit() else rows,
        ),
        VOIDED,
    ),
    order="-day",
    start="holidays",
    empty="Days that are no working days: the clock of reviews stands still on them.",
)
