"""Lists of what the brewery has and whom it deals with."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.db.models import Count, Max, OuterRef, Q, QuerySet, Subquery
from django.utils import timezone

from brewlog.models import (
    BufferBottle,
    Calibration,
    CultureLine,
    Flavour,
    Format,
    Ingredient,
    IngredientLot,
    Instrument,
    Location,
    Recipe,
    RecipeVersion,
    SharedDevice,
    Supplier,
    User,
    Vessel,
)
from brewlog.views.lists import Column, Filter, Linked, Listing, Word, choice, get, link, moment
from brewlog.views.nouns.parts import (
    HAVE,
    IN_USE,
    IN_USE_COLUMN,
    NOTE,
    VOIDED,
    choice_filter,
    link_filter,
    name_column,
)


def _last_calibration(field: str) -> QuerySet:
    calibrations = Calibration.objects.live().filter(instrument=OuterRef("pk"))
    return calibrations.order_by("-happened_at", "-id").values(field)[:1]


def instruments() -> QuerySet[Instrument]:
    """The instruments with their last calibration beside each."""
    return Instrument.objects.annotate(
        last_calibrated=Subquery(_last_calibration("happened_at")),
        last_precision=Subquery(_last_calibration("happened_precision")),
        last_outcome=Subquery(_last_calibration("outcome")),
        last_due=Subquery(_last_calibration("due_on")),
    )


def calibration_word(instrument: Any) -> Word:
    """Whether its readings can be leaned on today."""
    if instrument.last_outcome is None:
        return Word("never calibrated", "look" if instrument.calibrate_every_days else "plain")
    if instrument.last_outcome == Calibration.Outcome.FAILED:
        return Word("out of tolerance", "stop")
    due = instrument.last_due
    if due is None and instrument.calibrate_every_days:
        due = timezone.localtime(instrument.last_calibrated).date() + dt.timedelta(
            days=instrument.calibrate_every_days
        )
    if due is not None and due < timezone.localdate():
        return Word("calibration overdue", "look")
    return Word("in calibration", "good")


INSTRUMENTS = Listing(
    noun="instrument",
    path="instruments",
    title="Instruments",
    group=HAVE,
    queryset=instruments,
    columns=(
        name_column(),
        Column("kind", "Kind", choice("kind"), "kind"),
        Column("state", "Calibration", calibration_word),
        Column(
            "last",
            "Last calibrated",
            moment("last_calibrated", "last_precision"),
            "last_calibrated",
        ),
        Column("due", "Next due", get("last_due"), "last_due"),
        Column("serial", "Serial number", get("serial"), "serial"),
    ),
    search=("name", "serial", "note"),
    sought=("name", "serial"),
    filters=(choice_filter("kind", "Kind", Instrument.Kind.choices), IN_USE, VOIDED),
    order="name",
    start="instrument",
    empty="Each meter, thermometer and scale, so that a reading can name what it was taken with.",
)


def bottle_word(bottle: Any) -> Word:
    """Whether a meter may still be calibrated in it."""
    past = bottle.expires_on < timezone.localdate()
    return Word("past its date", "stop") if past else Word("in date", "good")


BUFFER_BOTTLES = Listing(
    noun="buffer-bottle",
    path="buffer-bottles",
    title="Buffer bottles",
    group=HAVE,
    queryset=lambda: BufferBottle.objects.select_related("supplier"),
    columns=(
        name_column(),
        Column("ph", "Nominal pH (25 °C)", get("nominal_ph"), "nominal_ph", number=True),
        Column("until", "Good until", get("expires_on"), "expires_on"),
        Column("state", "Standing", bottle_word),
        Column("maker_lot", "Its maker's lot", get("maker_lot"), "maker_lot"),
        Column("supplier", "Supplier", link("supplier"), "supplier__name"),
        Column("opened", "Opened", get("opened_on"), "opened_on"),
        IN_USE_COLUMN,
    ),
    search=("name", "maker_lot", "note"),
    sought=("name", "maker_lot"),
    filters=(IN_USE, VOIDED),
    order="name",
    start="buffer-bottle",
    empty="What pH meters are calibrated in: a bottle past its date puts readings in doubt.",
)


def _last_delivery(field: str) -> QuerySet:
    deliveries = IngredientLot.objects.live().filter(ingredient=OuterRef("pk"))
    return deliveries.order_by("-happened_at", "-id").values(field)[:1]


INGREDIENTS = Listing(
    noun="ingredient",
    path="ingredients",
    title="Ingredients and packaging",
    group=HAVE,
    queryset=lambda: Ingredient.objects.annotate(
        deliveries=Count("lots", filter=Q(lots__voided_at__isnull=True)),
        last_received=Subquery(_last_delivery("happened_at")),
        last_precision=Subquery(_last_delivery("happened_precision")),
    ),
    columns=(
        name_column(),
        Column("kind", "Kind", choice("kind"), "kind"),
        Column("allergens", "Allergens", get("allergens"), "allergens"),
        Column("organic", "Organic", choice("organic"), "organic"),
        Column("deliveries", "Deliveries", get("deliveries"), "deliveries", number=True),
        Column("last", "Last received", moment("last_received", "last_precision"), "last_received"),
    ),
    search=("name", "label_name", "allergens", "note"),
    sought=("name", "label_name"),
    filters=(choice_filter("kind", "Kind", Ingredient.Kind.choices), IN_USE, VOIDED),
    order="name",
    start="ingredient",
    empty="Tea, sugar, fruit, caps, labels: what is bought in lots.",
)
SUPPLIERS = Listing(
    noun="supplier",
    path="suppliers",
    title="Suppliers",
    group=HAVE,
    queryset=lambda: Supplier.objects.all(),
    columns=(
        name_column(),
        Column("contact", "Contact", get("contact"), "contact"),
        Column("phone", "Phone", get("phone")),
        Column("email", "E-mail", get("email")),
        Column("approved", "Approved on", get("approved_on"), "approved_on"),
        Column(
            "certificate",
            "Certificate until",
            get("organic_certificate_until"),
            "organic_certificate_until",
        ),
    ),
    search=("name", "contact", "address", "email", "organic_certificate", "note"),
    sought=("name", "contact", "email", "organic_certificate"),
    filters=(IN_USE, VOIDED),
    order="name",
    start="supplier",
    empty="Who things are bought from.",
)


def _versions(field: str, **narrowed: Any) -> QuerySet:
    versions = RecipeVersion.objects.live().filter(recipe=OuterRef("pk"), **narrowed)
    return versions.order_by("-number").values(field)[:1]


RECIPES = Listing(
    noun="recipe",
    path="recipes",
    title="Recipes",
    group=HAVE,
    queryset=lambda: Recipe.objects.annotate(
        newest=Subquery(_versions("number")),
        approved=Subquery(_versions("number", approved_at__isnull=False)),
    ),
    columns=(
        name_column(),
        Column("approved", "Approved version", get("approved"), "approved", number=True),
        Column("newest", "Newest version", get("newest"), "newest", number=True),
        IN_USE_COLUMN,
        NOTE,
    ),
    search=("name", "note"),
    sought=("name",),
    filters=(IN_USE, VOIDED),
    order="name",
    start="recipe",
    empty="The master record, in versions: what goes into each litre, and how.",
)


def vessel_word(vessel: Any) -> Word:
    return Word("not suitable", "stop") if vessel.is_unsuitable else Word("suitable", "good")


def rating_word(each: Any) -> Word:
    if each.rating == Format.Rating.RATED:
        return Word(f"{each.rated_bar:g} bar", "good")
    return Word(each.get_rating_display(), "look")


VESSELS = Listing(
    noun="vessel",
    path="vessels",
    title="Vessels",
    group=HAVE,
    queryset=lambda: Vessel.objects.select_related("location"),
    columns=(
        name_column(),
        Column("material", "Material", choice("material"), "material"),
        Column("fit", "For acid drink", vessel_word),
        Column("holds", "Holds", get("capacity_text"), "capacity", number=True),
        Column("location", "Stands in", link("location"), "location__name"),
        IN_USE_COLUMN,
    ),
    search=("name", "location__name", "note"),
    sought=("name",),
    filters=(
        choice_filter("material", "Material", Vessel.Material.choices),
        link_filter("location", "Stands in", Location),
        IN_USE,
        VOIDED,
    ),
    order="name",
    start="vessel",
    empty="Kettles, jars, tanks and barrels.",
)


CULTURE_LINES = Listing(
    noun="culture-line",
    path="culture-lines",
    title="Culture lines",
    group=HAVE,
    queryset=lambda: CultureLine.objects.annotate(
        starters=Count(
            "lots", filter=Q(lots__voided_at__isnull=True, lots__retired_at__isnull=True)
        )
    ),
    columns=(
        name_column(),
        Column("starters", "Starters not retired", get("starters"), "starters", number=True),
        Column("feed", "Feed every, days", get("feed_every_days"), "feed_every_days", number=True),
        IN_USE_COLUMN,
        NOTE,
    ),
    search=("name", "note"),
    sought=("name",),
    filters=(IN_USE, VOIDED),
    order="name",
    start="culture-line",
    empty="A living culture carried on from batch to batch under one name.",
)
FLAVOURS = Listing(
    noun="flavour",
    path="flavours",
    title="Flavours",
    group=HAVE,
    queryset=lambda: Flavour.objects.all(),
    columns=(
        name_column(),
        Column("label", "On the label", get("label_name"), "label_name"),
        Column(
            "days",
            "Best before, days",
            get("best_before_days"),
            "best_before_days",
            number=True,
        ),
        Column("gtin", "GTIN", get("gtin"), "gtin"),
        IN_USE_COLUMN,
    ),
    search=("name", "label_name", "gtin", "statement", "note"),
    sought=("name", "label_name", "gtin", "statement"),
    filters=(IN_USE, VOIDED),
    order="name",
    start="flavour",
    empty="What the customer asks for, and what its label says.",
)
FORMATS = Listing(
    noun="format",
    path="formats",
    title="Bottles, cans and kegs",
    group=HAVE,
    queryset=lambda: Format.objects.all(),
    columns=(
        name_column(),
        Column("container", "Container", choice("container"), "container"),
        Column("holds", "Net contents", get("holds_text"), "holds", number=True),
        Column("rating", "Pressure rating", rating_word, "rating"),
        Column("reused", "Used again", get("is_reused"), "is_reused"),
        IN_USE_COLUMN,
    ),
    search=("name", "material", "note"),
    sought=("name",),
    filters=(choice_filter("container", "Container", Format.Container.choices), IN_USE, VOIDED),
    order="name",
    start="format",
    empty="What is filled, what it holds and what pressure it withstands.",
)


SHARED_DEVICES = Listing(
    noun="shared-device",
    path="shared-devices",
    title="Shared devices",
    group=HAVE,
    queryset=lambda: SharedDevice.objects.all(),
    columns=(
        name_column(),
        Column("idle", "Asks after, minutes", get("idle_minutes"), "idle_minutes", number=True),
        IN_USE_COLUMN,
        NOTE,
    ),
    search=("name", "note"),
    filters=(IN_USE, VOIDED),
    order="name",
    start="share-device",
    empty="Tablets and phones on which the person at work changes by a tap and a PIN.",
)
PEOPLE = Listing(
    noun="person",
    path="people",
    title="People",
    group=HAVE,
    queryset=lambda: User.objects.annotate(role_name=Max("groups__name")),
    columns=(
        Column("name", "Name", lambda each: Linked(str(each), each), "first_name"),
        Column("username", "User name", get("username"), "username"),
        Column("role", "Role", get("role_name"), "role_name"),
        Column("active", "Working here", get("is_active"), "is_active"),
        Column("password", "Password", get("password_standing")),
        Column("last", "Last logged in", get("last_login"), "last_login"),
    ),
    search=("username", "first_name", "last_name"),
    filters=(
        Filter(
            "active",
            "Working here",
            lambda: [("yes", "yes"), ("no", "no longer")],
            lambda rows, value: rows.filter(is_active=value == "yes"),
        ),
    ),
    order="first_name",
    start="person",
    empty="Who records and who reads.",
)
