"""Where the hazard plan and the logs join the records: called by `joining.join`."""

from __future__ import annotations

from django.db import models as django_models

from brewlog.models import (
    Calibration,
    Checkpoint,
    ConditionCheck,
    LabResult,
    Location,
    ProcessStep,
)
from brewlog.views import corrections, details, events, links, nouns, panels, work
from compliance import models
from compliance.views import instruments, loggers, logs, plans
from compliance.views.plan_front import LISTINGS

# Opened from the page of the plan or the complaint.
_FROM_ITS_PAGE = {
    "plan-version",
    "plan-texts",
    "plan-step",
    "plan-step-change",
    "plan-step-drop",
    "copy-plan",
    "sign-plan",
    "reanalysis",
    "complaint-outcome",
}
_WORK = (
    work.WorkGroup(
        "Logs and complaints",
        (
            "log-cleaning",
            "log-sanitiser",
            "complaint",
            "log-maintenance",
            "log-pest",
            "log-training",
            "log-water",
            "log-other",
        ),
    ),
    work.WorkGroup("Hazard plan", ("plan",)),
)
_SERVING: tuple[type[django_models.Model], ...] = (
    Checkpoint,
    LabResult,
    ProcessStep,
    ConditionCheck,
)


def join_plans() -> None:
    """Add the plan, the logs and the room temperatures to the lists that the records ask."""
    work.FURTHER_WORK.extend(_WORK)
    work.NOT_LISTED.update(_FROM_ITS_PAGE)
    nouns.FURTHER_LISTINGS.extend(LISTINGS)
    panels.LOT_PANELS.append(logs.lot_complaints)
    corrections.CORRECTABLE.update(
        {
            models.HazardPlan: ("name", "note", "in_use"),
            models.LogEntry: (
                "when", "subject", "what", "agent", "value_text", "checked_by", "note",
            ),
            models.Complaint: ("when", "said_by", "what", "note"),
        }
    )  # fmt: skip
    corrections.BY_MANAGERS.add(models.HazardPlan)
    # A draft is changed by verbs of its own; what is signed stays.
    corrections.NOT_VOIDED.update({models.PlanVersion, models.PlanStep, models.Reanalysis})
    details.FURTHER_LINKS[Calibration] = [instruments.look_back_link]
    details.FURTHER_LINKS[Location] = [loggers.temperature_link, loggers.logger_link]
    for model in _SERVING:
        sections = events.RECORD_SECTIONS.get(model, ())
        events.RECORD_SECTIONS[model] = (*sections, plans.CONTROL_POINTS)
    links.FURTHER_PAGES.update(
        {
            models.HazardPlan: plans.plan_url,
            models.PlanVersion: plans.version_url,
            models.PlanStep: lambda step: plans.version_url(step.version),
            models.Reanalysis: lambda look: plans.plan_url(look.version.plan),
            models.LogEntry: logs.log_url,
            models.Complaint: logs.complaint_url,
        }
    )
