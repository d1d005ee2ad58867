"""Entries of flavours, formats, bottling and the checks around the line."""

from __future__ import annotations

from functools import partial

from brewlog.domain import bottling, line, registers
from brewlog.entries.base import MANAGE, Entry, Lines
from brewlog.forms import bottling as forms
from brewlog.models import Flavour

BURST_CAUTION = (
    "Bottles burst. Wear eye protection and gloves, chill them before you open or move them, "
    "and use only bottles rated for the pressure. Gas from the drink or a cylinder gathers in "
    "closed rooms, low down, and suffocates: air the room."
)

ENTRIES = (
    Entry(
        slug="flavour",
        title="Add a flavour",
        form=forms.FlavourForm,
        verb=partial(registers.add, model=Flavour),
    ),
    Entry(
        slug="format",
        title="Add a bottle, can or keg format",
        form=forms.FormatForm,
        verb=bottling.add_format,
        permission=MANAGE,
        caution="Only the maker's papers tell what pressure a bottle withstands. What is not "
        "known, decorative or scratched is not for drink that makes gas.",
    ),
    Entry(
        slug="bottle",
        title="Bottle",
        form=forms.BottleForm,
        verb=bottling.bottle,
        lines=(
            Lines(
                name="draws",
                title="Batches drawn",
                form=forms.DrawnForm,
                build=bottling.Drawn,
                least=1,
                blank_rows=2,
            ),
            Lines(
                name="additions",
                title="Flavouring and packaging, by lot",
                form=forms.AdditionForm,
                build=bottling.Drawn,
            ),
            Lines(
                name="outputs",
                title="Filled",
                form=forms.OutputForm,
                build=bottling.Output,
                least=1,
                blank_rows=2,
            ),
        ),
        caution=BURST_CAUTION,
    ),
    Entry(
        slug="bottle-one",
        title="Bottle one flavour",
        form=forms.BottleOneForm,
        verb=bottling.bottle_one,
        about="batch",
        caution=BURST_CAUTION,
    ),
    Entry(
        slug="line-clearance",
        title="Clear the line",
        form=forms.LineClearanceForm,
        verb=line.clear_line,
        about="lot",
    ),
    Entry(
        slug="breakage",
        title="Glass broke",
        form=forms.BreakageForm,
        verb=line.record_breakage,
        about="lot",
        caution="Stop the line. Wear gloves and eye protection. Set apart every open bottle near "
        "by and all filled since the last good check.",
    ),
    Entry(
        slug="bottle-wash",
        title="Wash used bottles",
        form=forms.BottleWashForm,
        verb=line.record_wash,
        about="lot",
        caution="Caustic burns skin and eyes. Wear gloves and goggles; never mix it with acid.",
    ),
    Entry(
        slug="keep-bottles",
        title="Keep bottles back",
        form=forms.KeepBottlesForm,
        verb=line.keep_bottles,
        about="lot",
        caution="Bottles kept warm go on working and can burst: keep them in a closed box.",
    ),
    Entry(
        slug="pull-bottles",
        title="Open bottles kept back",
        form=forms.PullBottlesForm,
        verb=line.pull_bottles,
        about="lot",
        caution="Chill them first. Open them slowly, over a sink, with eye protection and gloves.",
    ),
)
