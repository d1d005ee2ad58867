"""Findings on their way into what is kept for the lists, and back out of it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import Any

from brewlog.when import Precision, When
from compliance.assessment.finding import Evidence, Finding
from compliance.assessment.judging import judge_value
from compliance.decision import Verdict
from compliance.models import KeptFinding


def packed(finding: Finding, of_open_lot: bool) -> KeptFinding:
    """The row that keeps a finding."""
    decision = finding.decision
    return KeptFinding(
        lot=finding.lot,
        limit=finding.limit,
        of_open_lot=of_open_lot,
        urgency=finding.urgency,
        since=finding.since.at,
        contents={
            "verdict": finding.verdict.value,
            "text": finding.text,
            "since": finding.since.precision.value,
            "evidence": [[each.text, *_when(each.when), each.record] for each in finding.evidence],
            "measured": decision and [decision.value, decision.standard_uncertainty],
            "source": finding.uncertainty_source,
        },
    )


def unpacked(row: KeptFinding) -> Finding:
    """The finding as it was kept. The decision follows from the value and the limit."""
    kept: dict[str, Any] = row.contents
    return Finding(
        lot=row.lot,
        limit=row.limit,
        verdict=Verdict(kept["verdict"]),
        text=kept["text"],
        since=When(row.since, Precision(kept["since"])),
        evidence=tuple(_evidence(kept["evidence"])),
        decision=judge_value(row.limit, *kept["measured"]) if kept["measured"] else None,
        uncertainty_source=kept["source"],
    )


def _when(when: When) -> tuple[str, str]:
    return when.at.isoformat(), when.precision.value


def _evidence(kept: Iterable[list[str]]) -> Iterable[Evidence]:
    for text, at, precision, record in kept:
        yield Evidence(text, When(dt.datetime.fromisoformat(at), Precision(precision)), record)
