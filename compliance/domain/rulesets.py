"""Which rules bind the brewery: read in, chosen, tightened, declared not applicable."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import Any

from django.conf import settings
from django.utils import timezone

from brewlog.domain.lots import save_changed, save_new
from brewlog.models import User
from brewlog.recording import Refused, recording
from compliance.decision import Operator
from compliance.domain.limit_values import refuse_other_unit
from compliance.domain.signing import as_signed, canonical, digest_of
from compliance.models import Binding, Limit, RuleSet, Waiver

# Those that come with the program.
RULESETS = Path(settings.BASE_DIR) / "fixtures" / "rulesets"


# Reading rule sets in ----------------------------------------------------------------------


def read_rulesets(*, actor: User, folder: Path) -> list[RuleSet]:
    """Read every `*.json` of a folder in. What is there already stays as it is.

    An edition is never rewritten, since lots were judged by it: a file that says something
    else under the same edition is refused. Returns the rule sets that were new.
    """
    with recording(actor, "rule sets read in"):
        return [
            added
            for file in sorted(folder.glob("*.json"))
            if (added := _read_ruleset(json.loads(file.read_text("utf-8")), file.name))
        ]


def read_shipped(*, actor: User) -> list[RuleSet]:
    """Read in the rule sets that come with the program. Raises `Refused` where none is new."""
    added = read_rulesets(actor=actor, folder=RULESETS)
    if not added:
        raise Refused("All of them are read in already. Choose those that bind you.")
    return added


def _read_ruleset(data: dict[str, Any], file: str) -> RuleSet | None:
    limits = data["limits"]
    found = RuleSet.objects.live().filter(key=data["key"], edition=data["edition"]).first()
    if found is not None:
        _refuse_other_contents(found, data, file)
        return None
    ruleset = RuleSet(**{name: value for name, value in data.items() if name != "limits"})
    save_new(ruleset)
    for each in limits:
        limit = Limit(ruleset=ruleset, **each)
        limit.clean_fields(exclude=["recorded_at", "recorded_by", "ruleset"])
        refuse_other_unit(limit)
        save_new(limit)
    return ruleset


def _refuse_other_contents(found: RuleSet, data: dict[str, Any], file: str) -> None:
    there = {limit.key: (limit.operator, limit.value) for limit in found.limits.live()}
    said = {
        limit["key"]: (
            limit.get("operator", ""),
            None if limit.get("value") is None else Decimal(limit["value"]),
        )
        for limit in data["limits"]
    }
    if there != said:
        raise Refused(
            f"{file} says something else than {found}, which lots were judged by. "
            "Give it a new edition and the day it comes into force."
        )


# Choosing ----------------------------------------------------------------------------------


def bind(
    *, actor: User, ruleset: RuleSet, since: dt.date | None = None, reason: str = ""
) -> Binding:
    """Hold the brewery to a rule set from a day on. Raises `Refused` where it is already."""
    day = since or timezone.localdate()
    with recording(actor, reason):
        if Binding.objects.on(day).filter(ruleset=ruleset).exists():
            raise Refused({"ruleset": f"{ruleset} binds already."})
        binding = Binding(ruleset=ruleset, since=day)
        save_new(binding)
        return binding


def release_binding(
    *, actor: User, binding: Binding, reason: str, until: dt.date | None = None
) -> Binding:
    """End a rule set's hold on the brewery, with a reason. Lots judged before stay judged."""
    if not reason.strip():
        raise Refused({"reason": "Say why it binds no longer."})
    with recording(actor, reason):
        binding.reread()
        if binding.until is not None:
            raise Refused(f"{binding.ruleset} ends on {binding.until} already.")
        binding.until = until or timezone.localdate()
        save_changed(binding)
        return binding


def waive(
    *,
    actor: User,
    limit: Limit,
    reason: str,
    password: str,
    since: dt.date | None = None,
) -> Waiver:
    """Declare a limit not applicable to this brewery, signed with the password and a reason.

    The value of a law is never changed here: either it applies, or someone signs why not.
    """
    if not reason.strip():
        raise Refused({"reason": "Say why it does not apply here, and on whose word."})
    if not actor.check_password(password):
        raise Refused({"password": "That is not your password. Nothing was signed."})
    with recording(actor, reason):
        waiver = Waiver(
            limit=limit,
            reason=reason.strip(),
            since=since or timezone.localdate(),
            printed_name=str(actor),
        )
        save_new(waiver)
        return waiver


def is_tighter(one: Limit, other: Limit) -> bool:
    """Whether `one` lets less through than `other`, both with a value and the same way."""
    if one.value == other.value:
        return not one.sign.allows_equal and other.sign.allows_equal
    assert one.value is not None
    assert other.value is not None
    return one.value < other.value if one.sign.is_upper else one.value > other.value


# Asking ------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Rules:
    """Every limit that binds or bound the brewery, and on which days."""

    bindings: Sequence[Binding]
    waivers: Sequence[Waiver]
    limits: Sequence[Limit]

    def on(self, day: dt.date) -> list[Limit]:
        """The limits that bound the brewery on a day, those declared not applicable left out."""
        binding_sets = {each.ruleset_id for each in self.bindings if each.binds_on(day)}
        waived = {each.limit_id for each in self.waivers if each.holds_on(day)}
        return [
            limit
            for limit in self.limits
            if limit.ruleset_id in binding_sets and limit.pk not in waived and limit.holds_on(day)
        ]

    def digest(self) -> str:
        """One text for all of it: another where lots of any day are held to something else."""
        rulesets = {each.ruleset_id: each.ruleset for each in self.bindings}
        told = [*self.bindings, *rulesets.values(), *self.waivers, *self.limits]
        contents = {str(place): as_signed(each) for place, each in enumerate(told)}
        contents["ends"] = {str(each.pk): str(each.effective_until) for each in self.limits}
        return digest_of(canonical(contents))


def rules() -> Rules:
    """What binds the brewery or did once, in three queries for all days."""
    bindings = list(Binding.objects.live().select_related("ruleset").order_by("id"))
    waivers = list(Waiver.objects.live().order_by("id"))
    bound = {binding.ruleset_id for binding in bindings}
    limits = list(Limit.objects.live().filter(ruleset__in=bound).select_related("ruleset"))
    return Rules(bindings, waivers, limits)


def in_force(day: dt.date) -> list[Limit]:
    """The limits that bound the brewery on a day."""
    return rules().on(day)


@dataclass(frozen=True)
class Difference:
    """One question two rule sets answer differently; None where one does not ask it."""

    title: str
    one: Limit | None
    other: Limit | None


def compare(one: RuleSet, other: RuleSet) -> list[Difference]:
    """What differs between two rule sets, question by question, in the order of the first."""
    mine, theirs = list(one.limits.live()), list(other.limits.live())
    differences = []
    for limit in mine:
        match = _matching(limit, theirs)
        if match is None or _differs(limit, match):
            differences.append(Difference(limit.title, limit, match))
    matched = {id(_matching(limit, theirs)) for limit in mine}
    differences += [
        Difference(each.title, None, each) for each in theirs if id(each) not in matched
    ]
    return differences


def _matching(limit: Limit, others: Iterable[Limit]) -> Limit | None:
    return next((other for other in others if _same_subject(limit, other)), None)


def _same_subject(one: Limit, other: Limit) -> bool:
    same = ("kind", "measurand", "stage", "lot_kind", "step")
    if any(getattr(one, name) != getattr(other, name) for name in same):
        return False
    if one.operator and other.operator:
        return Operator(one.operator).is_upper == Operator(other.operator).is_upper
    return one.operator == other.operator


def _differs(one: Limit, other: Limit) -> bool:
    told = ("operator", "value", "within_hours", "since", "consequence")
    return any(getattr(one, name) != getattr(other, name) for name in told)
