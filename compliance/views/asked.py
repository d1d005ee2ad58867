"""The entry a limit asks for: what would show that it is met."""

from __future__ import annotations

from dataclasses import dataclass, field

from brewlog.models import Lot, Measurand
from compliance.models import Limit, LimitKind

_BY_A_LABORATORY = {LimitKind.SHELF_LIFE, LimitKind.LAB_AGE}
# A finding of these is not cleared by one more reading.
_NOT_READ = {
    LimitKind.STARTER_SHARE,
    LimitKind.GENERATION,
    LimitKind.CULTURE_AGE,
    LimitKind.LABEL,
    LimitKind.PLACE_TEMPERATURE,
}


@dataclass(frozen=True)
class Asked:
    """An entry by its slug, its button where the entry's title says too little, and its fields."""

    slug: str
    title: str = ""
    given: dict[str, str] = field(default_factory=dict)


def asked_for(lot: Lot, limit: Limit) -> Asked | None:
    """The check a limit asks for; None where no check clears it."""
    if limit.kind == LimitKind.CONDITION:
        return Asked("condition", given={"lot": lot.code})
    if limit.kind == LimitKind.STEP_TEMPERATURE:
        return Asked("step", given={"lot": lot.code, "kind": limit.step})
    if limit.kind == LimitKind.BALANCE:
        return Asked("count", given={"lot": lot.code})
    read = {"lot": lot.code, "measurand": limit.measurand}
    if limit.kind in _BY_A_LABORATORY or limit.measurand == Measurand.ALCOHOL:
        return Asked("lab-result", "Write the result", read)
    if limit.kind in _NOT_READ:
        return None
    return Asked("reading", given=read | {"stage": limit.stage})
