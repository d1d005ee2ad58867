"""What the brewery is held to, and what people decided about it."""

from compliance.models.deviations import (
    CorrectiveAction,
    Deviation,
    DeviationLot,
    Disposition,
    MarketDecision,
)
from compliance.models.holidays import Holiday
from compliance.models.kept import KeptFinding, KeptUpTo, LookAgain
from compliance.models.labels import LabelCount, Labelled, LabelRun, LabelSheet
from compliance.models.logs import Complaint, LogEntry
from compliance.models.plans import HazardPlan, PlanStep, PlanVersion, Reanalysis
from compliance.models.policy import Policy, policy
from compliance.models.recalls import RecallClosing, RecallResponse, RecallRun
from compliance.models.reviews import Release, Review
from compliance.models.rulesets import Binding, Limit, LimitKind, RuleSet, Unit, Waiver
from compliance.models.signatures import Signature

__all__ = [
    "Binding",
    "Complaint",
    "CorrectiveAction",
    "Deviation",
    "DeviationLot",
    "Disposition",
    "HazardPlan",
    "Holiday",
    "KeptFinding",
    "KeptUpTo",
    "LabelCount",
    "LabelRun",
    "LabelSheet",
    "Labelled",
    "Limit",
    "LimitKind",
    "LogEntry",
    "LookAgain",
    "MarketDecision",
    "PlanStep",
    "PlanVersion",
    "Policy",
    "Reanalysis",
    "RecallClosing",
    "RecallResponse",
    "RecallRun",
    "Release",
    "Review",
    "RuleSet",
    "Signature",
    "Unit",
    "Waiver",
    "policy",
]
