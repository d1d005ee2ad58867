"""Limits on what was seen and done: growths, starter, steps, places, cultures, balances."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from decimal import Decimal

from brewlog.calculations.records import instrument_uncertainty
from brewlog.models import Batch, BottlingLot, ConditionCheck, CultureLot, LotKind, Measurand
from brewlog.units import show_quantity, show_temperature
from brewlog.when import When
from compliance.assessment.facts import Facts, LotRecord
from compliance.assessment.finding import Evidence, Finding
from compliance.assessment.measured import evidence_of_lab
from compliance.decision import Verdict, decide, meets
from compliance.models import Limit


def condition(limit: Limit, record: LotRecord, facts: Facts) -> Iterator[Finding]:
    """Mould, or a look or smell someone called suspect: the latest check of each kind speaks.

    Mould stays a finding whatever a later check says; a doubt is cleared by a later check
    that finds nothing.
    """
    mouldy = [c for c in record.checks if c.mould == ConditionCheck.Mould.MOULD]
    if mouldy:
        yield _seen(limit, record, mouldy[0], Verdict.FAILS, "mould was seen")
        return
    if not record.checks:
        return
    last = record.checks[-1]
    if last.mould == ConditionCheck.Mould.UNSURE:
        yield _seen(limit, record, last, Verdict.NEEDS_REVIEW, "it may be mould: look again")
    elif last.verdict == ConditionCheck.Verdict.SUSPECT:
        yield _seen(limit, record, last, Verdict.NEEDS_REVIEW, "it looks or smells suspect")
    elif last.vinegar_eels or last.flies:
        what = "vinegar eels" if last.vinegar_eels else "flies or larvae"
        yield _seen(limit, record, last, Verdict.NEEDS_REVIEW, f"{what} were seen")


def _seen(
    limit: Limit, record: LotRecord, check: ConditionCheck, verdict: Verdict, text: str
) -> Finding:
    told = ", ".join(part for part in (check.look, check.smell, check.note) if part)
    evidence = Evidence(
        f"{check.get_mould_display()}{f' ({told})' if told else ''}, {check.done_by}",
        check.when,
        f"conditioncheck:{check.pk}",
    )
    return Finding(record.lot, limit, verdict, text, check.when, (evidence,))


def starter_share(limit: Limit, record: LotRecord, facts: Facts) -> Iterator[Finding]:
    """The starter written into a batch, in percent of its volume after it went in."""
    if not isinstance(record.detail, Batch) or record.pitched is None or not record.lot.made:
        return
    assert limit.value is not None
    share = Decimal(100) * record.starter / record.lot.made
    if meets(share, limit.sign, limit.value):
        return
    made = show_quantity(record.lot.made, record.lot.dimension)
    starter = show_quantity(record.starter, record.lot.dimension)
    text = f"{share:.1f} % starter ({starter} of {made}); the limit is {limit.comparison}"
    evidence = tuple(
        Evidence(f"{use.quantity_text} of {use.source}", use.when, f"lotuse:{use.pk}")
        for use in record.uses_in
        if use.source.kind == LotKind.CULTURE
    )
    yield Finding(record.lot, limit, Verdict.FAILS, text, record.pitched, evidence)


def step_temperature(limit: Limit, record: LotRecord, facts: Facts) -> Iterator[Finding]:
    """The temperature written with a step: steeping hot enough, pitching cool enough."""
    assert limit.value is not None
    for step in record.steps:
        if step.kind != limit.step or step.temperature is None:
            continue
        u, source = instrument_uncertainty(step.instrument, Measurand.TEMPERATURE)
        decision = decide(
            float(step.temperature), u, limit.sign, float(limit.value), float(limit.risk)
        )
        if decision.verdict is Verdict.CONFORMS:
            continue
        text = f"{show_temperature(step.temperature)}; the limit is {limit.comparison}"
        evidence = Evidence(
            f"{step.get_kind_display()} at {step.temperature_text or step.temperature}",
            step.when,
            f"processstep:{step.pk}",
        )
        yield Finding(
            record.lot, limit, decision.verdict, text, step.when, (evidence,), decision, source
        )


def generation(limit: Limit, record: LotRecord, facts: Facts) -> Iterator[Finding]:
    """Transfers since the culture was bought."""
    assert limit.value is not None
    if record.lot.kind != LotKind.CULTURE or meets(
        Decimal(record.generation), limit.sign, limit.value
    ):
        return
    text = f"{record.generation} transfers since bought; the limit is {limit.comparison}"
    yield Finding(record.lot, limit, Verdict.FAILS, text, record.began)


def culture_age(limit: Limit, record: LotRecord, facts: Facts) -> Iterator[Finding]:
    """Days a starter has stood, while it is in use."""
    assert limit.value is not None
    detail = record.detail
    if not isinstance(detail, CultureLot) or detail.retired_at is not None:
        return
    if record.balance is not None and record.balance.on_hand == 0:
        return
    days = (facts.at - record.began.at) / dt.timedelta(days=1)
    if meets(days, limit.sign, float(limit.value)):
        return
    text = f"{days:.0f} days old; the limit is {limit.comparison}"
    reached = record.began.at + dt.timedelta(days=float(limit.value))
    yield Finding(record.lot, limit, Verdict.FAILS, text, When(reached))


def balance(limit: Limit, record: LotRecord, facts: Facts) -> Iterator[Finding]:
    """What left beyond what the books had, in percent of what was there."""
    assert limit.value is not None
    found = record.balance
    if found is None or not found.unexplained:
        return
    there = found.made + found.added
    percent = Decimal(100) * found.unexplained / there if there else Decimal(100)
    if meets(percent, limit.sign, limit.value):
        return
    missing = show_quantity(found.unexplained, record.lot.dimension)
    text = f"{missing} more left than was there ({percent:.1f} %); the limit is {limit.comparison}"
    yield Finding(record.lot, limit, Verdict.NEEDS_REVIEW, text, record.began)


def label(limit: Limit, record: LotRecord, facts: Facts) -> Iterator[Finding]:
    """Words the label must carry, always or from a laboratory result on: are they there?

    The limit's unit is the words; the flavour's storage and further text are what the
    label says.
    """
    detail = record.detail
    if not isinstance(detail, BottlingLot):
        return
    said = f"{detail.flavour.storage} {detail.flavour.statement}".lower()
    if limit.unit.lower() in said:
        return
    if limit.value is None:
        text = f"the label must say '{limit.unit}'"
        yield Finding(record.lot, limit, Verdict.FAILS, text, record.began)
        return
    over = [
        each
        for each in record.labs
        if each.measurand == limit.measurand and not meets(each.value, limit.sign, limit.value)
    ]
    if not over:
        return
    text = f"{over[0].value_text} found: the label must say '{limit.unit}'"
    evidence = (evidence_of_lab(over[0]),)
    yield Finding(record.lot, limit, Verdict.FAILS, text, over[0].when, evidence)
