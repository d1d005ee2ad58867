"""The pages of flavours and of what they are bottled in."""

from __future__ import annotations

from brewlog.models import Flavour, Format
from brewlog.views.details import Detail, Section
from brewlog.views.registers.parts import BOTTLING_COLUMNS, bottlings, stock_over_time
from brewlog.views.standing import mark_kept_back

FLAVOUR = Detail(
    noun="flavour",
    model=Flavour,
    title="Flavour",
    list_title="Flavours",
    sections=(
        Section(
            "Bottled",
            (BOTTLING_COLUMNS[0], *BOTTLING_COLUMNS[2:]),
            lambda found: bottlings(flavour=found),
            mark_kept_back,
            empty="None bottled yet.",
        ),
    ),
    extra=stock_over_time("flavour-stock"),
)
FORMAT = Detail(
    noun="format",
    model=Format,
    title="Bottle, can or keg",
    list_title="Bottles, cans and kegs",
    sections=(
        Section(
            "Filled",
            (*BOTTLING_COLUMNS[:2], *BOTTLING_COLUMNS[3:]),
            lambda found: bottlings(format=found),
            mark_kept_back,
            empty="None filled yet.",
        ),
    ),
)
