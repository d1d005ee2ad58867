"""The facts of a hazard plan as a paper, and their collector."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass

from brewlog.models import User
from compliance.documents.as_read import Told
from compliance.documents.page import Head, Pair
from compliance.documents.printing import Desk, desk, moment
from compliance.domain.plan_contents import missing
from compliance.domain.plans import contents_of, in_force, steps_of
from compliance.domain.signing import changes_since
from compliance.models import PlanStep, PlanVersion

CHANGED = "CHANGED AFTER SIGNATURE"


@dataclass(frozen=True)
class PlanLimit:
    """A limit a step refers to: its value, its source, and how surely that was read."""

    title: str
    comparison: str
    citation: str
    reading: str
    ruleset: str


@dataclass(frozen=True)
class PlanRow:
    """One hazard at one step. `number` is that of its control point: CCP 1; '' for none."""

    order: int
    step: str
    hazard_kind: str
    hazard: str
    significant: str
    justification: str
    control: str
    number: str
    measure: str
    limit: PlanLimit | None
    monitoring: str
    correction: str
    verification: str
    records: str

    @property
    def name(self) -> str:
        return f"{self.order}. {self.step}"

    @property
    def limit_words(self) -> str:
        return f"{self.limit.title} {self.limit.comparison}".strip() if self.limit else "–"


@dataclass(frozen=True)
class PlanPacket:
    """Everything a plan's paper says. `lacking` is what a plan has to contain and this lacks."""

    head: Head
    name: str
    number: int
    is_example: bool
    texts: tuple[Pair, ...]
    signed: str
    changes: tuple[str, ...]
    lacking: tuple[str, ...]
    rows: tuple[PlanRow, ...]

    @property
    def flow(self) -> tuple[str, ...]:
        """The steps of the flow, each once, in order."""
        return tuple(dict.fromkeys(row.step for row in self.rows))

    @property
    def controls(self) -> tuple[PlanRow, ...]:
        """The rows that are control points."""
        return tuple(row for row in self.rows if row.number)

    def to_json(self) -> str:
        """The same facts as JSON, two spaces deep, in the order they are printed."""
        return json.dumps(asdict(self), ensure_ascii=False, indent=2) + "\n"


def collect_plan(
    version: PlanVersion, *, printed_by: User | str, printed_at: dt.datetime
) -> PlanPacket:
    """A version of a plan whole, as it stands."""
    with desk(printed_by, printed_at) as at_desk:
        version = PlanVersion.objects.select_related("plan", "signature").get(pk=version.pk)
        steps = steps_of(version)
        changes = _changes(version, steps)
        return PlanPacket(
            head=at_desk.head("Hazard plan", str(version), _state(version, changes)),
            name=str(version.plan),
            number=version.number,
            is_example=version.is_example,
            texts=_texts(version, at_desk),
            signed=_signed(version),
            changes=changes,
            lacking=tuple(missing(version, steps)),
            rows=_rows(steps),
        )


def _texts(version: PlanVersion, at_desk: Desk) -> tuple[Pair, ...]:
    brewery = at_desk.brewery
    operator = (
        brewery.name, brewery.address.replace("\n", ", "), brewery.country, brewery.phone,
        brewery.email, brewery.registration_number,
    )  # fmt: skip
    return (
        Pair("Operator", ", ".join(part for part in operator if part)),
        Pair("Team and scope", version.team),
        Pair("The product", version.product),
        Pair("Intended use, and who drinks it", version.intended_use),
        Pair("What shows that it works", version.validation),
        Pair("How it is verified", version.verification),
        Pair("Training", version.training),
    )


def _changes(version: PlanVersion, steps: Sequence[PlanStep]) -> tuple[str, ...]:
    if version.signature is None:
        return ()
    found = changes_since(version.signature, contents_of(version, steps))
    return tuple(f"{each.record} {each.what}" for each in found)


def _state(version: PlanVersion, changes: tuple[str, ...]) -> str:
    if version.is_void:
        return "VOID"
    if version.is_example:
        return "EXAMPLE, approved by nobody"
    if version.signature is None:
        return "draft, not signed"
    now = in_force(version.plan)
    state = "in force" if now and now.pk == version.pk else "replaced"
    return f"{state}; {CHANGED}" if changes else state


def _signed(version: PlanVersion) -> str:
    signature = version.signature
    if signature is None:
        return ""
    said = f"{signature.printed_name}, {moment(signature.signed_at)}"
    parts = (signature.get_meaning_display(), signature.statement)
    return Told(f"{said}: {'. '.join(part for part in parts if part)}")


_NUMBERED = {PlanStep.Control.CRITICAL: "CCP", PlanStep.Control.OPERATIONAL: "CP"}


def _rows(steps: Sequence[PlanStep]) -> tuple[PlanRow, ...]:
    counts = dict.fromkeys(_NUMBERED.values(), 0)
    rows = []
    for step in steps:
        letters = _NUMBERED.get(PlanStep.Control(step.control), "")
        if letters:
            counts[letters] += 1
        rows.append(_row(step, f"{letters} {counts[letters]}" if letters else ""))
    return tuple(rows)


def _row(step: PlanStep, number: str) -> PlanRow:
    limit = step.limit
    return PlanRow(
        order=step.order,
        step=step.step,
        hazard_kind=step.get_hazard_kind_display(),
        hazard=step.hazard,
        significant="yes" if step.is_significant else "no",
        justification=step.justification,
        control=step.get_control_display(),
        number=number,
        measure=step.measure,
        limit=PlanLimit(
            title=limit.title,
            comparison=Told(limit.comparison),
            citation=limit.citation,
            reading=limit.get_reading_display(),
            ruleset=str(limit.ruleset),
        )
        if limit
        else None,
        monitoring=step.monitoring,
        correction=step.correction,
        verification=step.verification,
        records=step.records,
    )
