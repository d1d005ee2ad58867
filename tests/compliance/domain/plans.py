"""Hazard plans for tests, written by the verbs a manager uses."""

from __future__ import annotations

from typing import Any

from brewlog.models import User
from compliance.domain import plans
from compliance.domain.plans import Step
from compliance.models import HazardPlan, Limit, PlanVersion
from tests.compliance.assessment import helpers

PASSWORD = "living culture 7"
TEXTS = {
    "product": "raw live-culture tea",
    "intended_use": "drunk cold by adults",
    "team": "brewer and reviewer",
    "training": "before working alone",
    "validation": "Nummer 2013",
    "verification": "records reviewed every week",
}


def step(name: str = "souring", **changes: Any) -> Step:
    """A biological hazard under a control point without a limit, unless changed."""
    usual = {
        "hazard_kind": "biological",
        "hazard": "germs grow",
        "justification": "tea is not sour",
        "control": "operational",
        "measure": "culture sours it",
        "monitoring": "pH meter, daily",
        "correction": "discard",
        "verification": "weekly review",
        "records": "pH readings",
    }
    return Step(step=name, **{**usual, **changes})


def ph_limit(actor: User) -> Limit:
    """A rule that finished bottles have a pH of at most 4.2, and binds."""
    return helpers.limit(
        actor,
        "value",
        lot_kind="bottling",
        measurand="ph",
        stage="finished",
        operator="<=",
        value="4.2",
        unit="pH",
    )


def whole_steps(actor: User, limit: Limit | None = None) -> list[Step]:
    """One critical control point, and a word on each hazard there always is."""
    return [
        step("finished", control="critical", limit=limit or ph_limit(actor)),
        step("bottling", hazard_kind="physical", control="prerequisite"),
        step("vessel", hazard_kind="chemical", control="prerequisite"),
    ]


def plan(actor: User, name: str = "Live-culture tea") -> HazardPlan:
    return plans.begin_plan(actor=actor, name=name)


def draft(
    actor: User, of: HazardPlan | None = None, limit: Limit | None = None, **changes: Any
) -> PlanVersion:
    """A version that lacks nothing, unless changed."""
    details = {"steps": changes.pop("steps", None) or whole_steps(actor, limit), **TEXTS}
    return plans.write_version(actor=actor, plan=of or plan(actor), **{**details, **changes})


def signed(
    actor: User, of: HazardPlan | None = None, limit: Limit | None = None, **changes: Any
) -> PlanVersion:
    """A version in force."""
    return sign(actor, draft(actor, of, limit, **changes))


def sign(actor: User, version: PlanVersion, **changes: Any) -> PlanVersion:
    details = {
        "approved_by": "county health office",
        "walked_through": True,
        "password": PASSWORD,
    }
    return plans.sign_plan(actor=actor, version=version, **{**details, **changes})
