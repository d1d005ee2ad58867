"""Findings, limits and signatures in the words of the pages."""

from __future__ import annotations

import re
from dataclasses import dataclass

from django.urls import reverse

from brewlog.models import LotKind
from brewlog.units import METRIC, US, Dimension, UnitSystem, in_unit
from brewlog.views.lists import Word
from brewlog.views.reader import Account, Words
from compliance.assessment import Evidence, Finding, Urgency
from compliance.decision import PLAIN, Verdict
from compliance.models import Limit, LimitKind, RuleSet, Unit

URGENCY = {
    Urgency.STOP: "stop: outside a critical limit",
    Urgency.CLOSE: "close: a critical limit is not shown to be met",
    Urgency.ACT: "act: an action limit",
    Urgency.LABEL: "label",
    Urgency.NOTE: "note",
}


def verdict_word(finding: Finding) -> Word:
    """What the floor is told: clear, too close, outside, or that it needs a look."""
    tone = "stop" if finding.is_critical else "look"
    decided = finding.decision
    if finding.verdict is Verdict.FAILS:
        return Word(PLAIN[Verdict.FAILS] if decided else "not met", tone)
    if decided is not None and decided.verdict is Verdict.NEEDS_REVIEW:
        return Word(PLAIN[Verdict.NEEDS_REVIEW], "look")
    # Nothing measured is near the limit: a reading is missing, late or in doubt.
    return Word("needs a look", "look")


def finding_url(finding: Finding) -> str:
    return reverse("finding-detail", args=[finding.lot.pk, finding.limit.pk])


def ruleset_url(ruleset: RuleSet) -> str:
    return reverse("ruleset-detail", args=[ruleset.key, ruleset.edition])


def evidence_url(evidence: Evidence) -> str:
    """The entry a finding stands on."""
    model, _, key = evidence.record.partition(":")
    return reverse("record-detail", args=[model, key])


def reading_word(limit: Limit) -> Word:
    """How surely the source was read."""
    sure = limit.reading in {Limit.Reading.CONFIRMED, Limit.Reading.HOUSE}
    return Word(limit.get_reading_display(), "plain" if sure else "look")


def consequence_word(limit: Limit) -> Word:
    tone = "stop" if limit.consequence == Limit.Consequence.CRITICAL else "plain"
    return Word(limit.get_consequence_display(), tone)


def applies_to(limit: Limit) -> str:
    """What the limit looks at, of which lots, at which stage and when, in words."""
    parts = [limit.get_kind_display()]
    if limit.measurand:
        parts.append(measured(limit.get_measurand_display()))
    if limit.lot_kind:
        lot = " lot" if limit.lot_kind == LotKind.BOTTLING else ""
        parts.append(f"of a {limit.get_lot_kind_display()}{lot}")
    if limit.stage:
        parts.append(limit.get_stage_display())
    return ", ".join(parts)


def measured(display: str) -> str:
    """What was measured, without the unit that its value is shown with."""
    return display.partition(",")[0]


_OF = {
    Limit.Since.PITCHED: " of adding starter",
    Limit.Since.BEGAN: " of its beginning",
    Limit.Since.BOTTLED: " of bottling",
    Limit.Since.LAST: " of the one before",
}


def deadline(limit: Limit) -> str:
    """`within 7 days of adding starter`, or nothing for a limit without a clock."""
    if limit.within_hours is None:
        return ""
    since = _OF[Limit.Since(limit.since)] if limit.since else ""
    return f"within {hours(float(limit.within_hours))}{since}"


def asks(limit: Limit) -> str:
    """What the limit asks for: a comparison, words on a label, or what it looks at."""
    if limit.kind == LimitKind.LABEL and limit.value is not None:
        line = f"{limit.sign.sign} {limit.value.normalize():f} % vol"
        return tidy(f"'{limit.words}' on the label, unless {line}")
    if limit.kind == LimitKind.LABEL:
        return f"'{limit.words}' on the label"
    if limit.kind == LimitKind.PRESSURE:
        return "below the bottle's rating, by calculation"
    return tidy(limit.comparison) or limit.get_kind_display()


def tidy(text: str) -> str:
    """A sign is kept on one line with its number, and the number with its unit."""
    return re.sub(r"([<>≤≥]) (\d[\d.]*) (\S)", "\\1\u00a0\\2\u00a0\\3", text)


def sentence(text: str) -> str:
    """What was found, as the beginning of a sentence."""
    return tidy(text if text[:2] == "pH" else text[:1].upper() + text[1:])


# What is found of these is told in amounts that were worked out, and names nothing.
_IN_AMOUNTS = {LimitKind.BALANCE, LimitKind.STARTER_SHARE}


def as_found(finding: Finding, text: str = "") -> Words:
    """What was found, or part of it, on its way to a page: in the reader's order and units."""
    said = sentence(text or finding.text)
    return Account(said) if finding.limit.kind in _IN_AMOUNTS else Words(said)


def hours(count: float) -> str:
    """36 h, 3 days."""
    if count >= 48 and count % 24 == 0:
        return f"{count / 24:g} days"
    return f"{count:g} h"


@dataclass(frozen=True)
class Figures:
    """The numbers behind a decision, as they are shown: in the reader's unit and, where that is
    another, in the limit's own beside it, as a limit is law in its own unit."""

    value: str
    uncertainty: str
    limit: str
    margin: str
    probability: str
    acceptance: str


@dataclass(frozen=True)
class _Scale:
    """The unit that stands for a limit's own: so many of it for one, counted from `zero`."""

    unit: str
    factor: float
    zero: float = 0.0


_US_SCALES = {
    Unit.CELSIUS: _Scale("°F", 9 / 5, 32.0),
    Unit.MILLILITRES: _Scale("fl oz", in_unit(1_000, Dimension.VOLUME, "fl oz")),
}


def figures(finding: Finding, system: UnitSystem = METRIC) -> Figures | None:
    """None where nothing was measured."""
    decided, own = finding.decision, finding.limit.unit
    if decided is None:
        return None
    scale = _US_SCALES.get(Unit(own)) if own and system is US else None

    def shown(value: float, figures: int, zero: float = 0.0) -> str:
        said = f"{value:.{figures}g} {own}".strip()
        if scale is None:
            return said
        return f"{value * scale.factor + zero:.{figures}g} {scale.unit} ({said})"

    # Degrees of a scale that begins elsewhere; a difference of degrees does not.
    zero = scale.zero if scale else 0.0
    sign = decided.operator.sign
    return Figures(
        value=shown(decided.value, 4, zero),
        uncertainty=shown(decided.standard_uncertainty, 2),
        limit=f"{sign} {shown(decided.limit, 4, zero)}",
        margin=f"{shown(abs(decided.margin), 3)} {'inside' if decided.margin >= 0 else 'outside'}",
        probability=_percent(decided.probability),
        acceptance=f"{sign} {shown(decided.acceptance_limit, 4, zero)}",
    )


def _percent(probability: float) -> str:
    if probability < 0.001:
        return "less than 0.1 %"
    if probability > 0.999:
        return "more than 99.9 %"
    return f"{100 * probability:.1f} %"
