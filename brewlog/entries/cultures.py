"""Entries of the living cultures."""

from __future__ import annotations

from functools import partial

from brewlog.domain import cultures, registers
from brewlog.domain.lots import Draw
from brewlog.entries.base import Entry, Lines
from brewlog.forms import cultures as forms
from brewlog.forms.batches import IngredientDrawForm
from brewlog.models import CultureLine, LotUse

MOULD_CAUTION = (
    "Look before you pour: dry, fuzzy or coloured growth is mould. Nothing of a mouldy "
    "vessel is kept, not the liquid and not the pellicle."
)

ENTRIES = (
    Entry(
        slug="culture-line",
        title="Name a culture line",
        form=forms.CultureLineForm,
        verb=partial(registers.add, model=CultureLine),
    ),
    Entry(
        slug="buy-culture",
        title="Take in a bought culture",
        form=forms.BuyCultureForm,
        verb=cultures.buy_culture,
        about="line",
    ),
    Entry(
        slug="feed",
        title="Feed or top up starter",
        form=forms.FeedForm,
        verb=cultures.feed,
        lines=(
            Lines(
                name="lines",
                title="What it was fed with",
                form=IngredientDrawForm,
                build=partial(Draw, purpose=LotUse.Purpose.FEED),
            ),
        ),
        about="culture",
        caution=MOULD_CAUTION,
    ),
    Entry(
        slug="pool",
        title="Pool starters",
        form=forms.PoolForm,
        verb=cultures.pool,
        lines=(
            Lines(
                name="lines",
                title="Starters poured together",
                form=forms.StarterDrawForm,
                build=partial(Draw, purpose=LotUse.Purpose.POOL),
                least=2,
            ),
        ),
        caution=MOULD_CAUTION + " One bad starter spoils the whole pool.",
    ),
    Entry(
        slug="keep-back",
        title="Keep back starter",
        form=forms.KeepBackForm,
        verb=cultures.keep_back,
        about="batch",
        caution=MOULD_CAUTION + " Take it before flavouring.",
    ),
    Entry(
        slug="split-backup",
        title="Set starter apart as a backup",
        form=forms.SplitBackupForm,
        verb=cultures.split_backup,
        about="culture",
    ),
    Entry(
        slug="retire",
        title="Retire a starter",
        form=forms.RetireForm,
        verb=cultures.retire,
        about="culture",
        button="Retire",
    ),
)
