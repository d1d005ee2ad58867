"""Sheets of bottling and of the checks around the line."""

from __future__ import annotations

from brewlog.domain import bottling, line
from brewlog.forms import bottling as forms
from brewlog.importing.references import Naming
from brewlog.importing.sheet import Sheet

SHEETS = (
    Sheet(
        name="Bottling",
        help="One row for each flavour and format filled. Flavourings, bottles, caps, labels "
        "and a second batch stand on the sheet Uses.",
        form=forms.BottleOneForm,
        verb=bottling.bottle_one,
        key=("code",),
        required=("code",),
        gives=(Naming("lot", "{code}"),),
        when="when",
        fixed={"already_done": True},
    ),
    Sheet(
        name="Line clearance",
        help="Nothing of the last flavour was left on the line.",
        form=forms.LineClearanceForm,
        verb=line.clear_line,
        key=("lot", "when"),
        when="when",
    ),
    Sheet(
        name="Bottle washing",
        help="Used bottles were washed and looked at before filling.",
        form=forms.BottleWashForm,
        verb=line.record_wash,
        key=("lot", "when"),
        when="when",
        numbered=True,
    ),
    Sheet(
        name="Breakage",
        help="Glass broke on the line.",
        form=forms.BreakageForm,
        verb=line.record_breakage,
        key=("lot", "when"),
        when="when",
        numbered=True,
    ),
    Sheet(
        name="Bottles kept back",
        help="Bottles kept to be opened later.",
        form=forms.KeepBottlesForm,
        verb=line.keep_bottles,
        key=("lot", "kept", "when"),
        gives=(Naming("bottles kept", "{lot}"),),
        when="when",
        numbered=True,
    ),
    Sheet(
        name="Bottles opened",
        help="Bottles that had been kept back were opened, and what was found.",
        form=forms.PullBottlesForm,
        verb=line.pull_bottles,
        key=("lot", "kept", "when"),
        needs=(Naming("bottles kept", "{lot}"),),
        when="when",
        closes=True,
        numbered=True,
    ),
)
