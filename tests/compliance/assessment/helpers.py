"""Rules for a test, written and bound through the domain in one call, and what they find."""

from __future__ import annotations

import datetime as dt
import itertools
import json
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from brewlog.models import Instrument, Lot, User
from brewlog.when import When
from compliance.assessment import Awaited, Finding, assess_lot
from compliance.decision import Verdict
from compliance.domain import rulesets
from compliance.domain.limit_values import unit_of
from compliance.models import Limit, RuleSet
from tests import factories

_numbers = itertools.count(1)
BEFORE_ALL_LOTS = dt.date(2020, 1, 1)

# An instrument of this resolution and accuracy has u = 0.0119: it accepts up to 4.1804 at an
# upper limit of 4.2 and 5 % risk; a value of 4.2196 or more is outside by as much.
METER = {"resolution": "0.01", "accuracy": "0.02"}


def limit(actor: User, kind: str, **fields: Any) -> Limit:
    """A critical limit of that kind in a rule set of its own that binds from 2020 on."""
    ruleset = bound(actor, {"kind": kind, **fields})
    return ruleset.limits.get()


def bound(
    actor: User, *limits: dict[str, Any], since: dt.date = BEFORE_ALL_LOTS, **fields: Any
) -> RuleSet:
    """A rule set of those limits that binds the brewery from a day on."""
    ruleset = written(actor, *limits, **fields)
    rulesets.bind(actor=actor, ruleset=ruleset, since=since)
    return ruleset


def written(actor: User, *limits: dict[str, Any], **fields: Any) -> RuleSet:
    """A rule set that is read in and binds nobody."""
    data = {
        "key": f"rules-{next(_numbers)}",
        "edition": "1",
        "title": "Invented rules",
        "status": "law",
        "effective_from": BEFORE_ALL_LOTS.isoformat(),
        "source": "invented for a test",
        **fields,
        "limits": [_limit(each) for each in limits],
    }
    with TemporaryDirectory() as folder:
        Path(folder, "rules.json").write_text(json.dumps(data), "utf-8")
        (added,) = rulesets.read_rulesets(actor=actor, folder=Path(folder))
    return RuleSet.objects.get(pk=added.pk)


def _limit(fields: dict[str, Any]) -> dict[str, Any]:
    usual = {
        "unit": unit_of(Limit(**fields)),
        "key": "the-limit",
        "title": "The limit",
        "consequence": "critical",
        "cause": "other",
        "citation": "an invented rule",
        "reading": "confirmed",
        "because": "of a test",
        "clears": "a second reading inside",
    }
    return {**usual, **fields}


def meter(actor: User, kind: str = "ph_meter", **fields: Any) -> Instrument:
    """An instrument whose uncertainty is known: 0.0119."""
    return factories.instrument(actor, kind=kind, **{**METER, **fields})


def findings(lot: Lot, at: When | None = None) -> tuple[Finding, ...]:
    return assess_lot(lot, at.at if at else None).findings


def awaited(lot: Lot, at: When | None = None) -> tuple[Awaited, ...]:
    return assess_lot(lot, at.at if at else None).awaited


def finding(lot: Lot, at: When | None = None) -> Finding:
    """The one finding there is."""
    (found,) = findings(lot, at)
    return found


def verdict(lot: Lot, at: When | None = None) -> Verdict | None:
    """What the one limit of a test says of a lot; None where there is nothing to find."""
    found = findings(lot, at)
    return finding(lot, at).verdict if found else None
