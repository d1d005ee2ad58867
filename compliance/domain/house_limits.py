"""The limits of the house itself: added, ended, replaced, never looser than a law that binds.

Each holds for lots begun from its own day on, up to the day it ends: a change of mind never
judges an older lot anew.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.utils import timezone
from django.utils.text import slugify

from brewlog.domain.lots import save_changed, save_new
from brewlog.models import Brewery, User
from brewlog.recording import Refused, recording
from compliance.domain.limit_values import read_limit_value, unit_of
from compliance.domain.rulesets import in_force, is_tighter
from compliance.models import Binding, Limit, RuleSet

HOUSE_KEY = "house"
# What a replacement takes over from the limit it replaces, unless it says otherwise.
_TAKEN_OVER = (
    "title", "kind", "lot_kind", "measurand", "stage", "step", "operator", "words", "within_hours",
    "since", "consequence", "cause", "risk", "citation", "because", "clears",
)  # fmt: skip


def add_house_limit(
    *,
    actor: User,
    title: str,
    value: str = "",
    effective_from: dt.date | None = None,
    reason: str = "",
    **fields: Any,
) -> Limit:
    """Add a limit of the brewery's own; it may be tighter than the law, never looser.

    `value` is the text as typed; a bare temperature is in the actor's own unit. It holds for
    lots begun from today on, or from the day named. Raises `Refused` for a value that is none
    of that measurand, and where a binding law sets a stricter one for the same thing.
    """
    day = effective_from or timezone.localdate()
    limit = Limit(title=title, reading=Limit.Reading.HOUSE, effective_from=day, **fields)
    if value.strip():
        in_us = actor.units == User.UnitSystem.US
        read = read_limit_value(limit, value, "F" if in_us else "C")
        limit.value, limit.value_text = read.value, read.text
    limit.unit = unit_of(limit)
    looser = _stricter_law(limit)
    if looser is not None:
        raise Refused(
            {
                "value": f"{looser.ruleset} asks for {looser.comparison}, which is stricter. "
                "Your own limit may be tighter than that, not looser."
            }
        )
    with recording(actor, reason):
        limit.ruleset = _house(day)
        limit.key = _free_key(limit)
        save_new(limit)
        return limit


def end_house_limit(
    *, actor: User, limit: Limit, reason: str, until: dt.date | None = None
) -> Limit:
    """End a limit of the house, with a reason. Lots begun before that day stay judged by it.

    Raises `Refused` for a limit that is not the house's own, one that ends already, and a day
    that is over: lots begun since were judged by it.
    """
    day = until or timezone.localdate()
    if not reason.strip():
        raise Refused({"reason": "Say why it holds no longer."})
    if day < timezone.localdate():
        raise Refused(
            {"until": "Lots begun since that day were judged by it. Choose today or a later day."}
        )
    with recording(actor, reason.strip()):
        limit.reread()
        if limit.ruleset.key != HOUSE_KEY:
            raise Refused(
                {"limit": f"{limit} is of {limit.ruleset}. Declare it not applicable here instead."}
            )
        if limit.effective_until is not None:
            raise Refused({"limit": f"{limit} ends on {limit.effective_until} already."})
        if limit.effective_from is not None and day < limit.effective_from:
            raise Refused({"until": f"It only begins on {limit.effective_from}."})
        limit.effective_until = day
        save_changed(limit)
        return limit


def replace_house_limit(
    *,
    actor: User,
    limit: Limit,
    reason: str,
    value: str = "",
    within_hours: Any = None,
    effective_from: dt.date | None = None,
) -> Limit:
    """End a limit of the house and put another in its place from the same day on.

    What is not said stays as it was. Raises `Refused` as ending and adding do, and where
    nothing would change.
    """
    day = effective_from or timezone.localdate()
    fields: dict[str, Any] = {name: getattr(limit, name) for name in _TAKEN_OVER}
    if within_hours is not None:
        fields["within_hours"] = within_hours
    with recording(actor, reason.strip()):
        try:
            end_house_limit(actor=actor, limit=limit, until=day, reason=reason)
        except Refused as refused:
            raise _on_its_own_field(refused) from None
        found = add_house_limit(
            actor=actor,
            value=value or _as_written(limit),
            effective_from=day,
            reason=reason,
            **fields,
        )
        if (found.value, found.within_hours) == (limit.value, limit.within_hours):
            raise Refused({"value": "That is the limit there is. Write what changes."})
        return found


def _on_its_own_field(refused: Refused) -> Refused:
    """What ending says of its day is about the day the replacement begins."""
    said = refused.message_dict
    return Refused({"effective_from" if name == "until" else name: said[name] for name in said})


def _as_written(limit: Limit) -> str:
    """The value as text that is read back as the same value."""
    if limit.value is None:
        return ""
    return limit.as_typed or f"{limit.value.normalize():f} {limit.unit}".strip()


def _house(day: dt.date) -> RuleSet:
    """The brewery's own rule set, begun with its first limit."""
    found = RuleSet.objects.live().filter(key=HOUSE_KEY).first()
    if found is not None:
        return found
    brewery = Brewery.objects.first()
    ruleset = RuleSet(
        key=HOUSE_KEY,
        edition="1",
        title=f"{brewery.name if brewery else 'House'}: own limits",
        status=RuleSet.Status.HOUSE,
        effective_from=min(day, timezone.localdate()),
        source="set by the manager",
    )
    save_new(ruleset)
    save_new(Binding(ruleset=ruleset, since=ruleset.effective_from))
    return ruleset


def _free_key(limit: Limit) -> str:
    """A key made from the title, of which there is none yet in the house's rule set."""
    taken = set(limit.ruleset.limits.live().values_list("key", flat=True))
    base = slugify(limit.title)[:50] or "limit"
    key, number = base, 1
    while key in taken:
        number += 1
        key = f"{base}-{number}"
    return key


def _stricter_law(limit: Limit) -> Limit | None:
    if limit.value is None:
        return None
    laws = [
        other
        for other in in_force(timezone.localdate())
        if other.ruleset.is_law and _same_question(other, limit) and other.value is not None
    ]
    return next((law for law in laws if is_tighter(law, limit)), None)


def _same_question(one: Limit, other: Limit) -> bool:
    return (
        one.kind == other.kind
        and one.measurand == other.measurand
        and one.stage == other.stage
        and one.lot_kind == other.lot_kind
        and bool(one.operator)
        and bool(other.operator)
        and one.sign.is_upper == other.sign.is_upper
    )
