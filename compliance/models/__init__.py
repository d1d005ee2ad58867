"""What the brewery is held to, and what people decided about it."""

from compliance.models.rulesets import Binding, Limit, LimitKind, RuleSet, Waiver

__all__ = ["Binding", "Limit", "LimitKind", "RuleSet", "Waiver"]
