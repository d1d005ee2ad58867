"""Entries of vessels, brews and batches."""

from __future__ import annotations

from functools import partial

from brewlog.domain import batches, lots, vessels
from brewlog.domain.lots import Draw
from brewlog.entries.base import Entry, Lines
from brewlog.forms import batches as forms
from brewlog.forms.cultures import StarterDrawForm
from brewlog.models import LotKind, LotUse


def draw_to_fill(**cleaned) -> Draw:
    """Sweet tea counts as sweet tea; anything else as an ingredient."""
    brew = cleaned["source"].kind == LotKind.BREW
    purpose = LotUse.Purpose.BREW if brew else LotUse.Purpose.INGREDIENT
    return Draw(purpose=purpose, **cleaned)


ENTRIES = (
    Entry(
        slug="vessel",
        title="Add a vessel",
        form=forms.VesselForm,
        verb=vessels.add_vessel,
        caution="Glazed ceramic, lead crystal, painted vessels and reactive metals give lead "
        "or metal to acid drink: they may be listed, not filled.",
    ),
    Entry(
        slug="brew",
        title="Brew sweet tea",
        form=forms.BrewForm,
        verb=batches.start_brew,
        lines=(
            Lines(
                name="lines",
                title="Tea, sugar and the rest, by lot",
                form=forms.IngredientDrawForm,
                build=partial(Draw, purpose=LotUse.Purpose.INGREDIENT),
            ),
        ),
        caution="Hot water and hot sugar burn. Lift kettles with two people or a pump.",
    ),
    Entry(
        slug="brew-volume",
        title="Write a brew's volume",
        form=forms.BrewVolumeForm,
        verb=batches.write_volume,
        about="brew",
    ),
    Entry(
        slug="batch",
        title="Begin a batch",
        form=forms.BatchForm,
        verb=batches.plan_batch,
    ),
    Entry(
        slug="fill",
        title="Fill a batch's vessel",
        form=forms.FillForm,
        verb=batches.fill,
        lines=(
            Lines(
                name="lines",
                title="What went in, by lot",
                form=forms.FillDrawForm,
                build=draw_to_fill,
                least=1,
            ),
        ),
        about="batch",
    ),
    Entry(
        slug="pitch",
        title="Add starter",
        form=forms.PitchForm,
        verb=batches.pitch,
        lines=(
            Lines(
                name="lines",
                title="Starter",
                form=StarterDrawForm,
                build=partial(Draw, purpose=LotUse.Purpose.STARTER),
                least=1,
                blank_rows=1,
            ),
        ),
        about="batch",
        caution="Is the tea cool enough? Hot tea kills the culture. Look at the starter: if it "
        "is mouldy, stop.",
    ),
    Entry(
        slug="step",
        title="Record a step",
        form=forms.StepForm,
        verb=batches.record_step,
        about="lot",
    ),
    Entry(
        slug="transfer",
        title="Transfer or blend",
        form=forms.TransferForm,
        verb=batches.transfer,
        about="source",
        caution="What one batch carries, the other carries from now on.",
    ),
    Entry(
        slug="use",
        title="Use a lot",
        form=forms.UseForm,
        verb=lots.use_lot,
        about="source",
    ),
)
