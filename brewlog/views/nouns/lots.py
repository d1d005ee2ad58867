"""Lists of lots: all of them, and each kind."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from brewlog.ledger import with_on_hand
from brewlog.models import (
    Batch,
    BottlingLot,
    Brew,
    CultureLine,
    CultureLot,
    Flavour,
    Format,
    Ingredient,
    IngredientLot,
    Lot,
    LotKind,
    PreparationLot,
    Supplier,
    Vessel,
)
from brewlog.models.lots import DESCRIBED
from brewlog.trace import generations
from brewlog.views.judged import STANDING_WORDS, mark_verdicts, narrow_to
from brewlog.views.lists import Column, Filter, Listing, choice, get, link, moment
from brewlog.views.nouns.parts import (
    CODE,
    IN_STOCK,
    MADE,
    ON_HAND,
    SINCE,
    STANDING,
    STOCK,
    VOIDED,
    WHEN,
    choice_filter,
    link_filter,
)
from brewlog.views.standing import mark_kept_back

VERDICT = Column("verdict", "Limits", get("verdict"))


STANDS = Filter(
    "limits",
    "Limits",
    lambda: [(word, word) for word in STANDING_WORDS],
    narrow_to,
)


def mark_judged(lots: Sequence[Any]) -> None:
    mark_kept_back(lots)
    mark_verdicts(lots)


def mark_transfers(lots: Sequence[Any]) -> None:
    mark_kept_back(lots)
    found = generations([lot.pk for lot in lots])
    for lot in lots:
        lot.transfers = found.get(lot.pk)


LOTS = Listing(
    noun="lot",
    path="lots",
    title="All lots",
    group=STOCK,
    queryset=lambda: with_on_hand(Lot.objects.select_related(*DESCRIBED)),
    columns=(
        CODE,
        Column("kind", "Kind", choice("kind"), "kind"),
        Column("what", "What", lambda lot: lot.detail.describe()),
        STANDING,
        ON_HAND,
        WHEN,
    ),
    search=("code", "as_ingredient__supplier_code", "as_ingredient__ingredient__name"),
    filters=(choice_filter("kind", "Kind", LotKind.choices), IN_STOCK, SINCE, VOIDED),
    prepare=mark_kept_back,
    start="receive",
    empty="A lot is anything with a code: a delivery, a starter, a batch, a bottling. "
    "The first is usually a delivery.",
)
BATCHES = Listing(
    noun="batch",
    path="batches",
    title="Batches",
    group=STOCK,
    queryset=lambda: with_on_hand(Batch.objects.select_related("recipe__recipe", "vessel")),
    columns=(
        CODE,
        Column("recipe", "Recipe", get("recipe"), "recipe__recipe__name"),
        Column(
            "vessel",
            "Vessel",
            link("vessel"),
            "vessel__name",
        ),
        STANDING,
        VERDICT,
        ON_HAND,
        MADE,
        Column("pitched", "Starter added", moment("pitched_at", "pitched_precision"), "pitched_at"),
    ),
    search=("code", "recipe__recipe__name", "vessel__name", "note"),
    sought=("code", "vessel__name", "recipe__recipe__name"),
    filters=(
        Filter(
            "state",
            "Starter",
            lambda: [("added", "added"), ("not", "not added yet")],
            lambda rows, value: rows.filter(pitched_at__isnull=value == "not"),
        ),
        IN_STOCK,
        STANDS,
        link_filter("vessel", "Vessel", Vessel),
        VOIDED,
    ),
    prepare=mark_judged,
    start="batch",
    empty="A batch is one vessel's ferment. Begin one when a vessel is chosen, then fill it "
    "and add starter.",
)
BREWS = Listing(
    noun="brew",
    path="brews",
    title="Brews of sweet tea",
    group=STOCK,
    queryset=lambda: with_on_hand(Brew.objects.select_related("recipe__recipe", "kettle")),
    columns=(
        CODE,
        Column("recipe", "Recipe", get("recipe"), "recipe__recipe__name"),
        Column("kettle", "Kettle", get("kettle"), "kettle__name"),
        STANDING,
        MADE,
        ON_HAND,
        WHEN,
    ),
    search=("code", "recipe__recipe__name", "kettle__name", "note"),
    sought=("code", "kettle__name", "recipe__recipe__name"),
    filters=(IN_STOCK, SINCE, VOIDED),
    prepare=mark_kept_back,
    start="brew",
    empty="A brew is one kettle of sweet tea. It may fill several vessels.",
)
BOTTLINGS = Listing(
    noun="bottling",
    path="bottlings",
    title="Bottling lots",
    group=STOCK,
    queryset=lambda: with_on_hand(BottlingLot.objects.select_related("flavour", "format")),
    columns=(
        CODE,
        Column("flavour", "Flavour", link("flavour"), "flavour__name"),
        Column("format", "Format", get("format"), "format__name"),
        STANDING,
        VERDICT,
        Column("made", "Filled", get("made"), "made", number=True),
        ON_HAND,
        Column("best_before", "Best before", get("best_before"), "best_before"),
        WHEN,
    ),
    search=(
        "code",
        "flavour__name",
        "flavour__label_name",
        "flavour__gtin",
        "format__name",
        "label_version",
        "note",
    ),
    sought=("code", "flavour__name", "flavour__label_name", "flavour__gtin", "label_version"),
    filters=(
        IN_STOCK,
        STANDS,
        link_filter("flavour", "Flavour", Flavour),
        link_filter("format", "Format", Format),
        SINCE,
        VOIDED,
    ),
    prepare=mark_judged,
    start="bottle",
    empty="Bottles of one flavour and format filled together are one lot.",
)
CULTURES = Listing(
    noun="culture",
    path="starters",
    title="Starters",
    group=STOCK,
    queryset=lambda: with_on_hand(CultureLot.objects.select_related("line", "vessel")),
    columns=(
        CODE,
        Column("line", "Line", link("line"), "line__name"),
        Column("origin", "Origin", choice("origin"), "origin"),
        STANDING,
        ON_HAND,
        Column("pellicles", "Pellicles", get("pellicles"), "pellicles", number=True),
        Column("transfers", "Transfers since bought", get("transfers"), number=True),
        Column("vessel", "Vessel", get("vessel"), "vessel__name"),
        WHEN,
    ),
    search=(
        "code",
        "line__name",
        "vessel__name",
        "supplier__name",
        "supplier_code",
        "document_number",
        "note",
    ),
    sought=(
        "code",
        "line__name",
        "vessel__name",
        "supplier_code",
        "document_number",
        "supplier__name",
    ),
    filters=(
        link_filter("line", "Line", CultureLine),
        choice_filter("origin", "Origin", CultureLot.Origin.choices),
        IN_STOCK,
        VOIDED,
    ),
    prepare=mark_transfers,
    start="buy-culture",
    empty="Every starter is a lot, so that what it went into can be found. Take in a bought "
    "culture, or keep back starter from a batch.",
)
INGREDIENT_LOTS = Listing(
    noun="ingredient-lot",
    path="deliveries",
    title="Deliveries",
    group=STOCK,
    queryset=lambda: with_on_hand(IngredientLot.objects.select_related("ingredient", "supplier")),
    columns=(
        CODE,
        Column(
            "ingredient",
            "Ingredient",
            link("ingredient"),
            "ingredient__name",
        ),
        STANDING,
        Column("made", "Received", get("made_text"), "made", number=True),
        ON_HAND,
        Column(
            "supplier",
            "Supplier",
            link("supplier"),
            "supplier__name",
        ),
        Column("supplier_code", "Supplier's lot", get("supplier_code"), "supplier_code"),
        Column("best_before", "Best before", get("best_before"), "best_before"),
        WHEN,
    ),
    search=(
        "code",
        "ingredient__name",
        "supplier__name",
        "supplier_code",
        "document_number",
        "certificate_number",
        "brand",
        "note",
    ),
    sought=(
        "code",
        "supplier_code",
        "document_number",
        "certificate_number",
        "ingredient__name",
        "brand",
        "supplier__name",
    ),
    filters=(
        choice_filter("kind", "Kind", Ingredient.Kind.choices, "ingredient__kind"),
        choice_filter("acceptance", "Decision", IngredientLot.Acceptance.choices),
        IN_STOCK,
        link_filter("supplier", "Supplier", Supplier),
        VOIDED,
    ),
    prepare=mark_kept_back,
    start="receive",
    empty="Each delivery is a lot of its own, with the supplier's lot code.",
)
PREPARATIONS = Listing(
    noun="preparation",
    path="preparations",
    title="Syrups, juices and infusions",
    group=STOCK,
    queryset=lambda: with_on_hand(PreparationLot.objects.all()),
    columns=(
        CODE,
        Column("name", "Name", get("name"), "name"),
        Column("kind", "Kind", choice("preparation_kind"), "preparation_kind"),
        STANDING,
        MADE,
        ON_HAND,
        Column("use_by", "Use by", get("use_by"), "use_by"),
        WHEN,
    ),
    search=("code", "name", "treatment", "note"),
    sought=("code", "name"),
    filters=(
        choice_filter("kind", "Kind", PreparationLot.Kind.choices, "preparation_kind"),
        IN_STOCK,
        VOIDED,
    ),
    prepare=mark_kept_back,
    start="prepare",
    empty="What is made in the house from deliveries before it goes into a batch or a bottle.",
)
