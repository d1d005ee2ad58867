"""The facts of a bottle's or a case's label, and their collector: once for each lot."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterable
from dataclasses import asdict, dataclass, replace
from decimal import ROUND_CEILING, ROUND_DOWN, ROUND_HALF_UP, Decimal

from django.utils import timezone

from brewlog.gs1 import (
    Element,
    Gs1Error,
    digital_link,
    element_string,
    readable,
    trade_item,
)
from brewlog.models import BottlingLot, Brewery, LabResult, Lot, Measurand, User
from brewlog.trace import composition
from compliance.assessment import Finding
from compliance.assessment.facts import label_text, load
from compliance.assessment.observed import label as judge_label
from compliance.documents.ingredient_list import Listed, ingredients_of, set_apart
from compliance.documents.label_rules import Market, markets_of
from compliance.documents.printing import desk
from compliance.domain.labelling import refuse_unlabelled
from compliance.domain.rulesets import in_force
from compliance.models import Limit, LimitKind

# common practice; local rules come first.
RAW = "Raw, unpasteurised."
COLD = "Keep refrigerated."
PRESSURE = "Contents under pressure: chill before opening, do not shake."
TRACES = "May contain traces of alcohol."
# US fluid ounce: 231 in³ / 128, the inch 25.4 mm, both by definition (NIST Handbook 44 appendix C,
# from memory): exact.
_ML_PER_FL_OZ = Decimal("29.5735295625")
_FL_OZ_PER_PINT, _FL_OZ_PER_QUART, _FL_OZ_PER_GALLON = 16, 32, 128


@dataclass(frozen=True)
class LabelPacket:
    """Everything a label says. `symbol` is what the barcode carries, `symbol_words` the
    parts of the line under it, `link` the same as an address. `markets` are those whose rules
    on type bind, `millilitres` the nominal contents they go by. `notes` are for the person
    who checks the label, and are not printed on it; `logo` is the name of its file.
    """

    lot_code: str
    name: str
    net_contents: str
    ingredients: tuple[str, ...]
    allergens: tuple[str, ...]
    storage: str
    cautions: str
    statement: str
    alcohol: str
    has_warning: bool
    best_before: str
    business: str
    address: str
    symbol: str
    symbol_words: tuple[str, ...]
    link: str
    is_gs1: bool
    markets: tuple[str, ...]
    millilitres: float
    notes: tuple[str, ...]
    is_case: bool = False
    logo: str = ""

    def to_json(self) -> str:
        """The same facts as JSON, two spaces deep."""
        return json.dumps(asdict(self), ensure_ascii=False, indent=2) + "\n"


def collect_label(lot: Lot, *, printed_by: User | str, printed_at: dt.datetime) -> LabelPacket:
    """The label of a bottling lot, from what was used and what was found of it.

    Raises `Refused` for another kind of lot, and for one that is kept back: it must not be
    labelled for sale.
    """
    with desk(printed_by, printed_at) as at_desk:
        refuse_unlabelled(lot)
        bottles = BottlingLot.objects.select_related("flavour", "format").get(pk=lot.pk)
        limits = in_force(timezone.localtime(lot.happened_at).date())
        return _packet(bottles, lot, at_desk.brewery, limits)


def _packet(bottles: BottlingLot, lot: Lot, brewery: Brewery, limits: list[Limit]) -> LabelPacket:
    listed = ingredients_of(bottles, composition(lot))
    markets = markets_of(limit.ruleset.key for limit in limits)
    asked = _asked_of(lot, limits)
    elements, symbol_notes = _elements(bottles.flavour.gtin, bottles)
    missing = _missing(bottles, brewery.address)
    return LabelPacket(
        lot_code=bottles.code,
        name=bottles.flavour.label_name,
        net_contents=net_contents(bottles.format.holds),
        ingredients=_named(listed, markets),
        allergens=listed.allergens if Market.US in markets else (),
        storage=bottles.flavour.storage,
        cautions=_cautions(bottles, asked),
        statement=" ".join((bottles.flavour.statement, *asked.words)).strip(),
        alcohol=asked.alcohol,
        has_warning=asked.has_warning,
        best_before=day_in_words(bottles.best_before, brewery.day_first),
        business=brewery.name,
        address=brewery.address,
        **_symbol(bottles.code, elements),
        markets=tuple(sorted(markets)),
        millilitres=bottles.format.holds / 1000,
        notes=(*listed.notes, *asked.notes, *symbol_notes, *missing),
        logo=brewery.logo.name or "",
    )


def case_of(packet: LabelPacket, bottles: BottlingLot, per_case: int, gtin: str) -> LabelPacket:
    """The label of a case of so many bottles. `gtin` is the case's own, or ''."""
    elements, notes = _elements(gtin, bottles)
    return replace(
        packet,
        net_contents=f"{per_case} × {packet.net_contents}",
        ingredients=(),
        allergens=(),
        cautions=packet.cautions.replace(TRACES, "").strip(),
        statement="",
        has_warning=False,
        **_symbol(packet.lot_code, elements),
        notes=notes,
        is_case=True,
    )


def _named(listed: Listed, markets: frozenset[Market]) -> tuple[str, ...]:
    if Market.EU in markets:
        return tuple(set_apart(listed.names, listed.allergens))
    return listed.names


# Net contents and dates ----------------------------------------------------------------------


def net_contents(microlitres: int) -> str:
    """Metric and US: `330 mL (11.1 fl oz)`, `500 mL (16.9 fl oz, 1 pt 0.9 fl oz)`.

    From a pint to below a gallon the US figure stands in fluid ounces and in the largest
    whole units (21 CFR 101.7(j)(3) and (m), from memory). The converted figure is rounded
    down, so that it never promises more than there is.
    """
    millilitres = Decimal(microlitres) / 1000
    exact = millilitres / _ML_PER_FL_OZ
    litre = millilitres >= 1000
    metric = f"{_plain(millilitres / 1000)} L" if litre else f"{_plain(millilitres)} mL"
    return f"{metric} ({_us(exact)})"


def _us(exact: Decimal) -> str:
    if exact >= _FL_OZ_PER_GALLON:
        return f"{_plain(_down(exact / _FL_OZ_PER_GALLON, '0.01'))} gal"
    ounces = _down(exact, "0.1")
    whole = f"{_plain(ounces)} fl oz"
    if ounces < _FL_OZ_PER_PINT:
        return whole
    quarts, rest = divmod(ounces, _FL_OZ_PER_QUART)
    pints, rest = divmod(rest, _FL_OZ_PER_PINT)
    parts = ((quarts, "qt"), (pints, "pt"), (rest, "fl oz"))
    return f"{whole}, {' '.join(f'{_plain(n)} {unit}' for n, unit in parts if n)}"


def _down(number: Decimal, step: str) -> Decimal:
    return number.quantize(Decimal(step), ROUND_DOWN)


def _plain(number: Decimal) -> str:
    text = f"{number:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def day_in_words(day: dt.date | None, day_first: bool = True) -> str:
    """`10 Jun 2026`, or `Jun 10, 2026` where the month goes first: never in figures alone."""
    if day is None:
        return ""
    month = _MONTHS[day.month - 1]
    return f"{day.day} {month} {day.year}" if day_first else f"{month} {day.day}, {day.year}"


# What the limits ask for ---------------------------------------------------------------------


@dataclass(frozen=True)
class _Asked:
    """What the label must say by the limits that bind and what was found."""

    alcohol: str = ""
    has_warning: bool = False
    words: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    is_raw: bool = True


def _one_decimal(value: Decimal) -> str:
    return f"{value.quantize(Decimal('0.1'), ROUND_HALF_UP)}"


# How a strength is written, by the words a limit asks for. What is not to be more is rounded up.
_STRENGTH = {
    "% vol": lambda value: f"alc. {_one_decimal(value)} % vol",
    "% alc": lambda value: f"{_one_decimal(value)} % alc./vol.",
    "not more than": lambda value: (
        f"Contains not more than {value.quantize(Decimal('0.1'), ROUND_CEILING)} % alcohol "
        "by volume."
    ),
}
_WARNING = "GOVERNMENT WARNING"


def _asked_of(lot: Lot, limits: Iterable[Limit]) -> _Asked:
    facts = load([lot], timezone.now())
    record = facts.lots[lot.pk]
    # What is printed now says what the flavour says now.
    record.label_text = label_text(record.detail.flavour)
    alcohol, warning, words, notes = "", False, [], []
    for limit in limits:
        if limit.kind != LimitKind.LABEL or limit.lot_kind not in ("", lot.kind):
            continue
        for found in judge_label(limit, record, facts):
            if not isinstance(found, Finding):
                continue
            notes.append(f"{limit.title} ({limit.citation}): {found.text}.")
            if limit.words == _WARNING:
                warning = True
            elif limit.words in _STRENGTH:
                alcohol = _strength(limit.words, record.labs) or alcohol
                if not alcohol:
                    notes.append("No laboratory result of this lot tells the strength: have one.")
            else:
                words.append(f"{limit.words.rstrip('.')}.")
    return _Asked(alcohol, warning, tuple(words), tuple(notes), not record.heated)


def _strength(words: str, results: Iterable[LabResult]) -> str:
    """The highest the laboratory found in the lot, as those words ask for it."""
    values = [each.value for each in results if each.measurand == Measurand.ALCOHOL]
    return _STRENGTH[words](max(values)) if values else ""


def _cautions(bottles: BottlingLot, asked: _Asked) -> str:
    """Raw where nothing was heated, pressure where there is gas, traces where no strength is
    told."""
    is_still = bottles.carbonation == BottlingLot.Carbonation.STILL
    said = [RAW] if asked.is_raw else []
    said += [COLD] if asked.is_raw else []
    said += [] if is_still else [PRESSURE]
    said += [TRACES] if asked.is_raw and not asked.alcohol and not asked.has_warning else []
    return " ".join(said)


# The symbol ----------------------------------------------------------------------------------


def _elements(gtin: str, bottles: BottlingLot) -> tuple[list[Element], tuple[str, ...]]:
    """The GS1 elements where there is a GTIN and all of them fit; what is wrong with them."""
    if not gtin:
        return [], ()
    try:
        return trade_item(gtin, bottles.best_before, bottles.code), ()
    except Gs1Error as error:
        return [], (f"No GS1 barcode: {error}",)


def _symbol(code: str, elements: list[Element]) -> dict:
    """What the barcode carries: GS1 elements, or the lot code."""
    if not elements:
        return {"symbol": code, "symbol_words": (code,), "link": "", "is_gs1": False}
    return {
        "symbol": element_string(elements),
        "symbol_words": tuple(readable([each]) for each in elements),
        "link": digital_link(elements),
        "is_gs1": True,
    }


def _missing(bottles: BottlingLot, address: str) -> tuple[str, ...]:
    missing = []
    if bottles.best_before is None:
        missing.append("No best-before date is set, so the label has none.")
    if not address.strip():
        missing.append("The brewery has no address yet, so the label has none.")
    return tuple(missing)
