"""Lots held against the limits that bound them: findings, computed each time anew."""

from compliance.assessment.assess import Change, assess, assess_lot, open_lots, what_would_change
from compliance.assessment.finding import Assessment, Awaited, Evidence, Finding, Turn, Urgency

__all__ = [
    "Assessment",
    "Awaited",
    "Change",
    "Evidence",
    "Finding",
    "Turn",
    "Urgency",
    "assess",
    "assess_lot",
    "open_lots",
    "what_would_change",
]
