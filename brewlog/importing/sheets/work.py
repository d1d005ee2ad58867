"""Sheets of the work: receiving, preparing, cultures, brews, batches, and every use."""

from __future__ import annotations

from typing import Any

from brewlog.domain import batches, cultures, ingredients, lots
from brewlog.domain.lots import Draw
from brewlog.forms import batches as batch_forms
from brewlog.forms import cultures as culture_forms
from brewlog.forms import ingredients as ingredient_forms
from brewlog.forms.sheets import DecisionRowForm, RetireRowForm
from brewlog.importing.references import Naming
from brewlog.importing.sheet import Sheet
from brewlog.models import CultureLot, IngredientLot, Lot, LotUse, User
from brewlog.units import Quantity

_DONE = {"already_done": True}
_LOT = (Naming("lot", "{code}"),)


def decide(*, actor: User, decision: str, **facts: Any) -> IngredientLot:
    """Accept or reject a delivery, as the row says."""
    accepted = decision == IngredientLot.Acceptance.ACCEPTED
    verb = ingredients.accept if accepted else ingredients.reject
    return verb(actor=actor, **facts)


def begin_culture(
    *, actor: User, source: Lot | None, taken: Quantity | None, **facts: Any
) -> CultureLot:
    """A new lot of starter, with the one lot it came from where the row names one."""
    lines = []
    if source is not None and taken is not None:
        lines = [Draw(source, taken, _carried_on_as(facts["origin"]))]
    return cultures.begin_culture(actor=actor, lines=lines, **facts)


def _carried_on_as(origin: str) -> str:
    return LotUse.Purpose.POOL if origin == CultureLot.Origin.POOLED else LotUse.Purpose.CULTURE


def pitch(*, actor: User, source: Lot, taken: Quantity, **facts: Any) -> Lot:
    """Add one starter to a batch."""
    draw = Draw(source, taken, LotUse.Purpose.STARTER)
    return batches.pitch(actor=actor, lines=[draw], **facts)


SHEETS = (
    Sheet(
        name="Receiving",
        help="One row for each delivery of one ingredient.",
        form=ingredient_forms.ReceiveForm,
        verb=ingredients.receive,
        key=("code",),
        required=("code",),
        gives=_LOT,
        when="when",
    ),
    Sheet(
        name="Decisions",
        help="Deliveries that waited and were then accepted or rejected.",
        form=DecisionRowForm,
        verb=decide,
        key=("lot", "decision"),
        when="when",
        closes=True,
    ),
    Sheet(
        name="Preparations",
        help="Syrups, juices, purées and infusions made in the house. "
        "What went in stands on the sheet Uses.",
        form=ingredient_forms.PrepareForm,
        verb=ingredients.prepare,
        key=("code",),
        required=("code",),
        gives=_LOT,
        when="when",
        fixed=_DONE,
    ),
    Sheet(
        name="Cultures",
        help="Each new lot of starter: bought, kept back, fed, pooled or split off. Several "
        "sources, and what it was fed with, stand on the sheet Uses.",
        form=culture_forms.CultureRowForm,
        verb=begin_culture,
        key=("code",),
        required=("code",),
        gives=_LOT,
        when="when",
        fixed=_DONE,
    ),
    Sheet(
        name="Brews",
        help="Kettles of sweet tea. What went in stands on the sheet Uses.",
        form=batch_forms.BrewForm,
        verb=batches.start_brew,
        key=("code",),
        required=("code",),
        gives=_LOT,
        when="when",
        fixed=_DONE,
    ),
    Sheet(
        name="Batches",
        help="One row for each vessel's ferment. What went in stands on the sheets Uses and "
        "Starter added.",
        form=batch_forms.BatchForm,
        verb=batches.plan_batch,
        key=("code",),
        required=("code",),
        gives=_LOT,
        when="when",
        fixed=_DONE,
    ),
    Sheet(
        name="Uses",
        help="An amount of one lot that went into another: ingredients, sweet tea, feeds, "
        "transfers, flavourings, bottles and caps.",
        form=batch_forms.UseForm,
        verb=lots.use_lot,
        key=("source", "into", "purpose", "when"),
        when="when",
        fixed=_DONE,
        numbered=True,
    ),
    Sheet(
        name="Steps",
        help="Steps of the work on a brew, a batch or a preparation, with time and temperature.",
        form=batch_forms.StepForm,
        verb=batches.record_step,
        key=("lot", "kind", "when"),
        when="when",
        numbered=True,
    ),
    Sheet(
        name="Starter added",
        help="Starter went into a batch. A second starter at the same time stands on the "
        "sheet Uses.",
        form=batch_forms.PitchRowForm,
        verb=pitch,
        key=("batch",),
        when="when",
        fixed=_DONE,
    ),
)

RETIRED = (
    Sheet(
        name="Starters retired",
        help="Starters taken out of use for good.",
        form=RetireRowForm,
        verb=cultures.retire,
        key=("culture",),
        when="when",
        closes=True,
    ),
)
