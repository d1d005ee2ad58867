"""What a hazard plan has to contain, heading by heading, and what one still lacks.

The twelve steps of Codex CXC 1-1969 (2020 revision, chapter two; from memory) and the
contents of FDA Food Code 8-201.14 (read in a state's adoption of the 2009 text; the operator's
name and address are asked for since 2017, from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from compliance.models import PlanStep, PlanVersion

Check = Callable[[PlanVersion, Sequence[PlanStep]], str]

CODEX = "Codex CXC 1-1969 (from memory)"
FOOD_CODE = "Food Code 8-201.14"
# How the texts of the example begin. It cannot be signed as it is, nor can a bare copy of it.
EXAMPLE_MARK = "EXAMPLE"
# Everywhere there are harmful germs, substances and objects to think of. Allergens and the
# law's own lines are hazards only where they occur.
_ALWAYS_CONSIDERED = (
    PlanStep.Hazard.BIOLOGICAL,
    PlanStep.Hazard.CHEMICAL,
    PlanStep.Hazard.PHYSICAL,
)


@dataclass(frozen=True)
class Heading:
    """Something a plan has to contain: who asks for it, where on the page it stands, and
    what is missing of it ('' where nothing is)."""

    source: str
    number: str
    title: str
    anchor: str
    lacks: Check


def _text(name: str, words: str) -> Check:
    def lacks(version: PlanVersion, steps: Sequence[PlanStep]) -> str:
        text = getattr(version, name).strip()
        if text.startswith(EXAMPLE_MARK):
            return f"{words} It still reads as the example does."
        return "" if text else words

    return lacks


def _has_steps(version: PlanVersion, steps: Sequence[PlanStep]) -> str:
    return "" if steps else "Write the steps of the flow."


def _every_hazard(version: PlanVersion, steps: Sequence[PlanStep]) -> str:
    written = {step.hazard_kind for step in steps}
    absent = [kind.label for kind in _ALWAYS_CONSIDERED if kind not in written]
    if not absent:
        return ""
    return f"Nothing is written about {' or '.join(absent)} hazards, not even why there are none."


def critical(steps: Sequence[PlanStep]) -> list[PlanStep]:
    """The critical control points among the steps."""
    return [step for step in steps if step.control == PlanStep.Control.CRITICAL]


def _has_critical(version: PlanVersion, steps: Sequence[PlanStep]) -> str:
    return "" if critical(steps) else "No step is a critical control point."


def _limits(version: PlanVersion, steps: Sequence[PlanStep]) -> str:
    without = [str(step.order) for step in critical(steps) if step.limit is None]
    if not without:
        return ""
    noun = "step" if len(without) == 1 else "steps"
    return f"Choose the critical limit of {noun} {', '.join(without)}."


def _every(name: str, words: str) -> Check:
    def lacks(version: PlanVersion, steps: Sequence[PlanStep]) -> str:
        without = [str(step.order) for step in steps if not getattr(step, name).strip()]
        return f"{words} at step {', '.join(without)}." if without else ""

    return lacks


def _nothing(version: PlanVersion, steps: Sequence[PlanStep]) -> str:
    return ""


_MONITORING = _every("monitoring", "Write what is looked at")
_CORRECTION = _every("correction", "Write what is done when it is not met")
_RECORDS = _every("records", "Write which record is kept")
_VALIDATION = _text("validation", "Write what shows that the plan works.")
_VERIFICATION = _text("verification", "Write how the plan is verified.")


def _validated_and_verified(version: PlanVersion, steps: Sequence[PlanStep]) -> str:
    found = (_VALIDATION(version, steps), _VERIFICATION(version, steps))
    return " ".join(words for words in found if words)


CODEX_STEPS = (
    Heading(CODEX, "1", "Team and scope", "team", _text("team", "Write the team and the scope.")),
    Heading(
        CODEX, "2", "The product described", "product", _text("product", "Describe the product.")
    ),
    Heading(
        CODEX,
        "3",
        "Intended use, and who drinks it",
        "use",
        _text("intended_use", "Write the intended use, and who drinks it."),
    ),
    Heading(CODEX, "4", "Flow diagram", "flow", _has_steps),
    # Asked for when the plan is signed.
    Heading(CODEX, "5", "Flow confirmed on site", "signature", _nothing),
    Heading(CODEX, "6", "Hazards listed, analysed, controls named", "hazards", _every_hazard),
    Heading(CODEX, "7", "Critical control points", "controls", _has_critical),
    Heading(CODEX, "8", "Validated critical limits", "controls", _limits),
    Heading(CODEX, "9", "Monitoring", "controls", _MONITORING),
    Heading(CODEX, "10", "Corrective actions", "controls", _CORRECTION),
    Heading(CODEX, "11", "Validation, then verification", "verify", _validated_and_verified),
    Heading(CODEX, "12", "Documents and records", "forms", _RECORDS),
)
FOOD_CODE_CONTENTS = (
    Heading(FOOD_CODE, "A", "Name, address and contact of the operator", "operator", _nothing),
    Heading(
        FOOD_CODE,
        "B",
        "Kinds of food that need time and temperature control",
        "product",
        _text("product", "Describe the product."),
    ),
    Heading(
        FOOD_CODE,
        "C",
        "Flow diagram with control points, ingredients, materials, equipment and recipes",
        "flow",
        _has_steps,
    ),
    Heading(
        FOOD_CODE,
        "D",
        "For each critical control point: hazard, limit, monitoring, verification, corrective "
        "action, records",
        "controls",
        _limits,
    ),
    Heading(
        FOOD_CODE,
        "E",
        "Training of the people",
        "training",
        _text("training", "Write the training."),
    ),
    Heading(FOOD_CODE, "F", "Working instructions and blank record forms", "forms", _RECORDS),
    Heading(FOOD_CODE, "G", "Supporting scientific data", "limits", _VALIDATION),
)
HEADINGS = (*CODEX_STEPS, *FOOD_CODE_CONTENTS)


def missing(version: PlanVersion, steps: Sequence[PlanStep]) -> list[str]:
    """What keeps a version from being signed, in words; empty where nothing does."""
    found = (heading.lacks(version, steps) for heading in HEADINGS)
    return list(dict.fromkeys(words for words in found if words))
