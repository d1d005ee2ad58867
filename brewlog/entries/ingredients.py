"""Entries of receiving, deciding and preparing."""

from __future__ import annotations

from functools import partial

from brewlog.domain import ingredients, registers
from brewlog.domain.lots import Draw
from brewlog.entries.base import Entry, Lines
from brewlog.forms import ingredients as forms
from brewlog.models import Ingredient, LotUse, Supplier

JUICE_CAUTION = (
    "Juice pressed here may fall under juice rules that ask for a proven treatment. "
    "Check with your authority before selling drinks that hold it."
)

ENTRIES = (
    Entry(
        slug="supplier",
        title="Add a supplier",
        form=forms.SupplierForm,
        verb=partial(registers.add, model=Supplier),
    ),
    Entry(
        slug="ingredient",
        title="Add an ingredient",
        form=forms.IngredientForm,
        verb=partial(registers.add, model=Ingredient),
    ),
    Entry(
        slug="receive",
        title="Receive a delivery",
        form=forms.ReceiveForm,
        verb=ingredients.receive,
        about="ingredient",
    ),
    Entry(
        slug="accept",
        title="Accept a delivery",
        form=forms.DecideForm,
        verb=ingredients.accept,
        about="lot",
        button="Accept",
    ),
    Entry(
        slug="reject",
        title="Reject a delivery",
        form=forms.DecideForm,
        verb=ingredients.reject,
        about="lot",
        button="Reject",
    ),
    Entry(
        slug="prepare",
        title="Make a syrup, juice or infusion",
        form=forms.PrepareForm,
        verb=ingredients.prepare,
        lines=(
            Lines(
                name="lines",
                title="What went in",
                form=forms.DrawForm,
                build=partial(Draw, purpose=LotUse.Purpose.INGREDIENT),
                least=1,
            ),
        ),
        caution=JUICE_CAUTION,
    ),
)
