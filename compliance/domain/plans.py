"""The hazard plan: written in versions, copied, signed into force, looked at again."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db.models import Max, Prefetch, QuerySet

from brewlog.domain import lots, registers
from brewlog.domain.lots import refuse_future, save_changed, save_new
from brewlog.models import User
from brewlog.recording import Refused, recording
from brewlog.when import When, now
from compliance.domain.plan_contents import missing
from compliance.domain.rulesets import RULESETS, read_rulesets
from compliance.domain.signing import Contents, as_signed, sign
from compliance.models import (
    HazardPlan,
    Limit,
    PlanStep,
    PlanVersion,
    Reanalysis,
    Signature,
)

_FIXTURES = Path(settings.BASE_DIR) / "fixtures"
STARTER_PLAN = _FIXTURES / "plans" / "live-culture-tea.json"
_LONGEST_STATEMENT = 200
# Times are written to the minute, and signatures are timed to less.
A_MINUTE = dt.timedelta(minutes=1)


@dataclass(frozen=True)
class Step:
    """A row of a plan to be written: one hazard at one step, and how it is controlled."""

    step: str
    hazard_kind: str
    hazard: str
    justification: str
    control: str
    measure: str
    monitoring: str
    correction: str
    verification: str
    records: str
    is_significant: bool = True
    limit: Limit | None = None


@dataclass(frozen=True)
class Texts:
    """What a version says apart from its steps."""

    product: str
    intended_use: str
    team: str
    training: str = ""
    validation: str = ""
    verification: str = ""


# Writing ---------------------------------------------------------------------------------


def begin_plan(
    *, actor: User, name: str, note: str = "", from_example: bool = False, reason: str = ""
) -> HazardPlan:
    """Begin a plan for one kind of product; with the example as its first version or empty."""
    with recording(actor, reason):
        plan = registers.add(actor=actor, model=HazardPlan, name=name, note=note)
        if from_example:
            read_starter_plan(actor=actor, plan=plan)
        return plan


def write_version(
    *,
    actor: User,
    plan: HazardPlan,
    steps: Sequence[Step],
    product: str,
    intended_use: str,
    team: str,
    training: str = "",
    validation: str = "",
    verification: str = "",
    reason: str = "",
) -> PlanVersion:
    """Write the next version of a plan, as a draft. What is in force stays so until it is
    signed. Raises `Refused` without a step."""
    if not steps:
        raise Refused("A plan has at least one step. Write what is done first.")
    texts = Texts(product, intended_use, team, training, validation, verification)
    with recording(actor, reason):
        return _save_version(plan, texts, steps)


def _save_version(
    plan: HazardPlan, texts: Texts, steps: Sequence[Step], *, is_example: bool = False
) -> PlanVersion:
    last = plan.versions.live().aggregate(last=Max("number"))["last"] or 0
    version = PlanVersion(plan=plan, number=last + 1, is_example=is_example, **vars(texts))
    save_new(version)
    for order, step in enumerate(steps, start=1):
        save_new(PlanStep(version=version, order=order, **vars(step)))
    return version


def copy_version(
    *, actor: User, version: PlanVersion, name: str = "", reason: str = ""
) -> PlanVersion:
    """A draft that begins as another version stands: to adapt the example, or to change what
    is in force. With a `name` it begins a plan of its own."""
    texts = Texts(**{name: getattr(version, name) for name in Texts.__dataclass_fields__})
    names = Step.__dataclass_fields__
    steps = [Step(**{name: getattr(each, name) for name in names}) for each in steps_of(version)]
    with recording(actor, reason or f"copied from {version}"):
        plan = version.plan
        if name:
            plan = registers.add(actor=actor, model=HazardPlan, name=name)
        return _save_version(plan, texts, steps)


def change_version(
    *, actor: User, version: PlanVersion, reason: str = "", **texts: str
) -> PlanVersion:
    """Write the texts of a draft anew."""
    with recording(actor, reason):
        version.reread()
        _refuse_fixed(version)
        for name, text in texts.items():
            setattr(version, name, text)
        save_changed(version)
        return version


def add_step(
    *, actor: User, version: PlanVersion, order: int | None = None, reason: str = "", **fields: Any
) -> PlanStep:
    """Add a step to a draft: at its place in the flow, or last."""
    with recording(actor, reason):
        version.reread()
        _refuse_fixed(version)
        last = version.steps.live().aggregate(last=Max("order"))["last"] or 0
        step = PlanStep(version=version, order=order or last + 1, **vars(Step(**fields)))
        save_new(step)
        return step


def change_step(
    *,
    actor: User,
    plan_step: PlanStep,
    order: int | None = None,
    reason: str = "",
    **fields: Any,
) -> PlanStep:
    """Write a step of a draft anew."""
    with recording(actor, reason):
        plan_step.reread()
        _refuse_fixed(plan_step.version)
        for name, value in vars(Step(**fields)).items():
            setattr(plan_step, name, value)
        plan_step.order = order or plan_step.order
        save_changed(plan_step)
        return plan_step


def drop_step(*, actor: User, plan_step: PlanStep, reason: str) -> PlanVersion:
    """Strike a step out of a draft, with the reason."""
    with recording(actor, reason):
        plan_step.reread()
        _refuse_fixed(plan_step.version)
        lots.void(actor=actor, record=plan_step, reason=reason)
        return plan_step.version


def _refuse_fixed(version: PlanVersion) -> None:
    if version.signature_id is not None:
        raise Refused(f"{version} is signed and stays as it is. Copy it and change the copy.")
    if version.is_example:
        raise Refused(f"{version} is the example. Copy it and adapt the copy.")


# The example -----------------------------------------------------------------------------


def read_starter_plan(
    *, actor: User, plan: HazardPlan | None = None, file: Path = STARTER_PLAN
) -> PlanVersion | None:
    """Read the example plan in: into the plan given, or into one of its own name.

    The rule sets that its limits are from are read in first. Read again under its own name
    it changes nothing and None is returned. Raises `Refused` where a limit is not there.
    """
    data = json.loads(file.read_text("utf-8"))
    with recording(actor, "the example plan read in"):
        if plan is None:
            if HazardPlan.objects.live().filter(name__iexact=data["name"]).exists():
                return None
            plan = registers.add(
                actor=actor, model=HazardPlan, name=data["name"], note=data["note"]
            )
        read_rulesets(actor=actor, folder=RULESETS)
        texts = Texts(**data["texts"])
        steps = [_step_in(row) for row in data["steps"]]
        return _save_version(plan, texts, steps, is_example=True)


def _step_in(row: dict[str, Any]) -> Step:
    named = row.get("limit")
    return Step(**{**row, "limit": _limit_called(named) if named else None})


def _limit_called(named: dict[str, str]) -> Limit:
    found = (
        Limit.objects.live()
        .filter(ruleset__key=named["ruleset"], key=named["key"])
        .order_by("-ruleset__effective_from", "-id")
        .first()
    )
    if found is None:
        raise Refused(
            f"The rule set '{named['ruleset']}' has no limit '{named['key']}'. Read in the rule "
            "sets that came with this version of the program."
        )
    return found


# Signing ---------------------------------------------------------------------------------


def steps_of(version: PlanVersion) -> list[PlanStep]:
    """The live steps in the order of the flow, their limits with them."""
    rows = version.steps.live().select_related("limit__ruleset")
    return list(rows.order_by("order", "id"))


def sign_plan(
    *,
    actor: User,
    version: PlanVersion,
    approved_by: str,
    walked_through: bool,
    password: str,
    reason: str = "",
) -> PlanVersion:
    """Sign a version into force; from then on it is not changed, only followed by another.

    `approved_by` is who accepted it besides: the process authority, the health authority, the
    article it follows. Raises `Refused` for the example itself, for what the plan still
    lacks, and until the flow was walked through on site.
    """
    if not walked_through:
        raise Refused({"walked_through": "Walk the flow through on site first, step by step."})
    statement = f"Flow walked through on site. Approved by: {approved_by.strip()}"
    if not approved_by.strip() or len(statement) > _LONGEST_STATEMENT:
        raise Refused({"approved_by": "Say in a line who approved it besides you."})
    with recording(actor, reason):
        version.reread()
        steps = steps_of(version)
        _refuse_unsignable(version, steps)
        version.signature = sign(
            actor=actor,
            password=password,
            meaning=Signature.Meaning.PLAN,
            contents=contents_of(version, steps),
            statement=statement,
        )
        save_changed(version)
        return version


def _refuse_unsignable(version: PlanVersion, steps: Sequence[PlanStep]) -> None:
    if version.signature_id is not None:
        raise Refused({"version": f"{version} is signed already: {version.signature}."})
    if version.is_example:
        raise Refused({"version": f"{version} is the example. Copy it, adapt it, sign the copy."})
    lacking = missing(version, steps)
    if lacking:
        raise Refused({"version": "It cannot be signed yet. " + " ".join(lacking)})


def contents_of(version: PlanVersion, steps: Sequence[PlanStep]) -> Contents:
    """What is signed: the version, its steps, and the limits they refer to, as they stand."""
    records = [version, *steps, *{step.limit for step in steps if step.limit}]
    contents = {f"{each._meta.model_name}:{each.pk}": as_signed(each) for each in records}
    # The signature itself is written into the version afterwards.
    del contents[f"planversion:{version.pk}"]["signature_id"]
    return contents


def plans_with_versions() -> QuerySet[HazardPlan]:
    """The plans with their signed versions, latest signature first, in two queries."""
    signed = (
        PlanVersion.objects.live()
        .filter(signature__isnull=False)
        .select_related("signature", "plan")
        .order_by("-signature__signed_at", "-id")
    )
    return HazardPlan.objects.prefetch_related(Prefetch("versions", signed, to_attr="signed"))


def in_force(plan: HazardPlan, at: When | None = None) -> PlanVersion | None:
    """The version that holds now, or held at a time: the last one signed by then."""
    return _last_by(plans_with_versions().get(pk=plan.pk), at)


def all_in_force(at: When | None = None) -> list[PlanVersion]:
    """The version of each plan in use that holds now, or held at a time."""
    plans = plans_with_versions().filter(voided_at__isnull=True, in_use=True)
    found = [_last_by(plan, at) for plan in plans.order_by("id")]
    return [version for version in found if version is not None]


def _last_by(plan: Any, at: When | None) -> PlanVersion | None:
    signed: list[PlanVersion] = plan.signed
    if at is not None:
        signed = [each for each in signed if each.signature and each.signature.signed_at < at.ends]
    return signed[0] if signed else None


# Looking at it again ---------------------------------------------------------------------


def note_reanalysis(
    *,
    actor: User,
    plan: HazardPlan,
    because: str,
    found: str,
    password: str,
    when: When | None = None,
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
) -> Reanalysis:
    """Sign that the plan was looked at again, why, and what was found.

    Where it has to change, a new version is written and signed besides. Raises `Refused`
    where nothing is in force to look at.
    """
    version = in_force(plan)
    if version is None:
        raise Refused({"plan": f"No version of {plan} is in force yet. Sign one first."})
    if not because.strip() or not found.strip():
        field = "found" if because.strip() else "because"
        raise Refused({field: "Write this part too."})
    moment = when or now()
    refuse_future(moment)
    assert version.signature is not None
    if moment.ends + A_MINUTE <= version.signature.signed_at:
        raise Refused({"when": f"{version} was not signed yet then."})
    with recording(actor, reason):
        entry = Reanalysis(
            version=version,
            because=because.strip(),
            found=found.strip(),
            done_by=done_by or actor,
            note=note,
        )
        entry.when = moment
        entry.signature = sign(
            actor=actor,
            password=password,
            meaning=Signature.Meaning.REVIEW,
            contents={
                **contents_of(version, steps_of(version)),
                "reanalysis": {"because": entry.because, "found": entry.found},
            },
            statement=f"Hazard plan looked at again: {because.strip()}"[:_LONGEST_STATEMENT],
        )
        save_new(entry)
        return entry
