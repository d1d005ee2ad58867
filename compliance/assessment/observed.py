"""Limits on what was seen and done: growths, starter, steps, cultures, balances, labels."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from decimal import Decimal

from brewlog.models import (
    Batch,
    BottlingLot,
    ConditionCheck,
    CultureLot,
    LotKind,
    LotUse,
)
from brewlog.units import show_quantity
from brewlog.when import When
from compliance.assessment.facts import Facts, LotRecord
from compliance.assessment.finding import Evidence, Finding, Turn
from compliance.assessment.judging import (
    Judged,
    exact_finding,
    finding_of,
    judge_lab,
    judge_step,
    still_open,
)
from compliance.decision import Verdict
from compliance.models import Limit

# Work is written up within the day; a step without its temperature is missing after that.
_WRITTEN_UP_AFTER = dt.timedelta(days=1)


# How it looks ------------------------------------------------------------------------------


def condition(limit: Limit, record: LotRecord, facts: Facts) -> Iterator[Finding]:
    """Mould, or a look or smell someone called suspect.

    Mould stays a finding whatever a later check says; a doubt is cleared by a later check
    that finds nothing.
    """
    mouldy = [check for check in record.checks if check.mould == ConditionCheck.Mould.MOULD]
    if mouldy:
        yield _seen(limit, record, mouldy, Verdict.FAILS, "mould was seen")
        return
    clean = [check for check in record.checks if not _doubt(check)]
    open_doubts = [
        check
        for check in record.checks
        if _doubt(check) and not any(_is_later(other, check) for other in clean)
    ]
    if open_doubts:
        text = _doubt(open_doubts[-1])
        yield _seen(limit, record, open_doubts, Verdict.NEEDS_REVIEW, text)


def _doubt(check: ConditionCheck) -> str:
    """What is doubtful about how it looked, in words; nothing where nothing is."""
    if check.mould == ConditionCheck.Mould.UNSURE:
        return "it may be mould: keep it apart and look again"
    if check.vinegar_eels or check.flies:
        seen = "vinegar eels" if check.vinegar_eels else "flies or larvae"
        return f"{seen} were seen"
    if check.verdict == ConditionCheck.Verdict.SUSPECT:
        return "it looks or smells suspect"
    return ""


def _is_later(one: ConditionCheck, other: ConditionCheck) -> bool:
    if one.when == other.when:
        return one.pk > other.pk
    return other.when.provably_before(one.when)


def _seen(
    limit: Limit, record: LotRecord, checks: list[ConditionCheck], verdict: Verdict, text: str
) -> Finding:
    evidence = tuple(_evidence_of_check(check) for check in checks)
    return Finding(record.lot, limit, verdict, text, checks[-1].when, evidence)


def _evidence_of_check(check: ConditionCheck) -> Evidence:
    told = ", ".join(part for part in (check.look, check.smell, check.note) if part)
    return Evidence(
        f"{check.get_mould_display()}{f' ({told})' if told else ''}, {check.done_by}",
        check.when,
        f"conditioncheck:{check.pk}",
    )


# How it was made ---------------------------------------------------------------------------


def starter_share(limit: Limit, record: LotRecord, facts: Facts) -> Iterator[Finding]:
    """The starter written into a batch, in percent of its volume after it went in.

    Starter added later counts, and so does what it added to the volume. Without any
    starter written down the share is not known, which is not the same as none.
    """
    made = record.lot.made
    if not isinstance(record.detail, Batch) or record.pitched is None or not made:
        return
    starters = [use for use in record.uses_in if _is_starter(use, record)]
    if not starters:
        text = f"no starter is written into it; the limit is {limit.comparison}"
        yield Finding(record.lot, limit, Verdict.NEEDS_REVIEW, text, record.pitched)
        return
    starter = sum(use.quantity for use in starters)
    volume = made + sum(use.added or 0 for use in starters)
    share = Decimal(100) * starter / volume
    amounts = f"{_show(starter, record)} of {_show(volume, record)}"
    evidence = tuple(
        Evidence(f"{use.quantity_text} of {use.source}", use.when, f"lotuse:{use.pk}")
        for use in starters
    )
    text = f"{share:.2f} % starter ({amounts})"
    found = exact_finding(limit, record, share, text, record.pitched, evidence)
    if found:
        yield found


def _is_starter(use: LotUse, record: LotRecord) -> bool:
    """Starter liquid; a pellicle counted or weighed has no share of the volume."""
    if use.source.dimension != record.lot.dimension:
        return False
    return use.purpose == LotUse.Purpose.STARTER or use.source.kind == LotKind.CULTURE


def _show(amount: int, record: LotRecord) -> str:
    return show_quantity(amount, record.lot.dimension)


def step_temperature(limit: Limit, record: LotRecord, facts: Facts) -> Iterator[Finding | Turn]:
    """The temperature written with a step: steeping hot enough, pitching cool enough.

    Where it was not hot enough, doing it again hot enough mends it. A step of which no
    temperature was written down is missing a day after the work.
    """
    steps = [step for step in record.steps if step.kind == limit.step]
    judged = [judge_step(limit, step, facts) for step in steps if step.temperature is not None]
    if not judged:
        yield from _no_temperature(limit, record, facts)
        return
    if not limit.sign.is_upper:
        judged = [each for each in judged if each.conforms or not _done_again(each, judged)]
    found = finding_of(limit, record, still_open(judged))
    if found:
        yield found


def _done_again(one: Judged, judged: list[Judged]) -> bool:
    return any(other.conforms and other.is_later_than(one) for other in judged)


def _no_temperature(limit: Limit, record: LotRecord, facts: Facts) -> Iterator[Finding | Turn]:
    begun = record.pitched if isinstance(record.detail, Batch) else record.began
    if begun is None:
        return
    missing_from = begun.ends + _WRITTEN_UP_AFTER
    if facts.at < missing_from:
        yield Turn(record.lot, limit, missing_from)
        return
    text = f"no temperature of it is written down; the limit is {limit.comparison}"
    yield Finding(record.lot, limit, Verdict.NEEDS_REVIEW, text, begun)


def balance(limit: Limit, record: LotRecord, facts: Facts) -> Iterator[Finding]:
    """What left beyond what the books had, in percent of what was there."""
    found = record.balance
    if found is None or not found.unexplained:
        return
    there = found.made + found.added
    percent = Decimal(100) * found.unexplained / there if there else Decimal(100)
    text = f"{_show(found.unexplained, record)} more left than was there ({percent:.1f} %)"
    outside = exact_finding(limit, record, percent, text, record.began)
    if outside:
        yield outside


# Cultures ----------------------------------------------------------------------------------


def generation(limit: Limit, record: LotRecord, facts: Facts) -> Iterator[Finding]:
    """Transfers since the culture was bought."""
    if record.lot.kind != LotKind.CULTURE:
        return
    text = f"{record.generation} transfers since bought"
    found = exact_finding(limit, record, record.generation, text, record.began)
    if found:
        yield found


def culture_age(limit: Limit, record: LotRecord, facts: Facts) -> Iterator[Finding | Turn]:
    """Days a starter has stood, while there is some of it and it is not retired.

    Where only its day is known, it is counted from the end of it.
    """
    assert limit.value is not None
    if not isinstance(record.detail, CultureLot) or record.detail.retired_at is not None:
        return
    if record.is_gone:
        return
    days = (facts.at - record.began.ends) / dt.timedelta(days=1)
    reached = When(record.began.ends + dt.timedelta(days=float(limit.value)))
    if facts.at <= reached.at:
        yield Turn(record.lot, limit, reached.at)
    found = exact_finding(limit, record, days, f"begun {record.began}", reached)
    if found:
        yield found


# What the label says -----------------------------------------------------------------------


def label(limit: Limit, record: LotRecord, facts: Facts) -> Iterator[Finding]:
    """Words the label must carry, always or from a laboratory result on: are they there?

    What the label says is the flavour's storage and further text, as they stood when the
    lot's labels were made. A result of the batch it was drawn from asks for a look.
    """
    if not isinstance(record.detail, BottlingLot) or _says(record, limit.words):
        return
    lead = f"the label must say '{limit.words}'"
    if limit.value is None:
        yield Finding(record.lot, limit, Verdict.FAILS, lead, record.began)
        return
    own = _open_results(limit, record.labs)
    found = finding_of(limit, record, own or _open_results(limit, record.kin_labs))
    if found is None:
        return
    verdict = found.verdict if own else Verdict.NEEDS_REVIEW
    telling = f"{found.evidence[0].text}: {lead}"
    yield Finding(
        record.lot,
        limit,
        verdict,
        telling,
        found.since,
        found.evidence,
        found.decision,
        found.uncertainty_source,
    )


def _says(record: LotRecord, words: str) -> bool:
    return _plain(words) in _plain(record.label_text)


def _plain(text: str) -> str:
    return " ".join(text.lower().split())


def _open_results(limit: Limit, results: Iterable) -> list[Judged]:
    judged = [judge_lab(limit, each) for each in results if each.measurand == limit.measurand]
    return [each for each in judged if not each.conforms]
