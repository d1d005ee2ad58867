"""The facts of a lot sheet: plain text as it is shown, in the brewery's zone and units.

Times are `YYYY-MM-DD HH:MM`, or the day alone where no more is known. Amounts are as typed;
worked-out ones are in the units of the person who prints.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, field

from brewlog.charts.plot import Plot
from compliance.documents.page import Head, Pair


@dataclass(frozen=True, kw_only=True)
class Entry:
    """What every entry says of itself. `void` is empty, or who struck it out and why.

    `late` says when and by whom it was written where that was late, `late_group` the same
    to the day: what was written together is told together.
    """

    when: str = ""
    by: str = ""
    late: str = ""
    late_group: str = ""
    note: str = ""
    void: str = ""


@dataclass(frozen=True, kw_only=True)
class UseEntry(Entry):
    """An amount of a lot that went in or out. `other` is the lot at the far end."""

    other: str
    kind: str
    what: str
    quantity: str
    purpose: str
    their_code: str = ""


@dataclass(frozen=True, kw_only=True)
class StepEntry(Entry):
    what: str
    temperature: str
    volume: str
    minutes: str
    instrument: str


@dataclass(frozen=True, kw_only=True)
class ReadingEntry(Entry):
    """A reading. `calibration` is the instrument's state when it was taken, `limit` what the
    value is held to at that stage."""

    what: str
    stage: str
    value: str
    sample_temperature: str
    instrument: str
    calibration: str
    limit: str = ""


@dataclass(frozen=True, kw_only=True)
class ConditionEntry(Entry):
    findings: str
    senses: str
    verdict: str


@dataclass(frozen=True, kw_only=True)
class LabEntry(Entry):
    what: str
    value: str
    uncertainty: str
    laboratory: str
    method: str
    report: str
    limit: str = ""


@dataclass(frozen=True, kw_only=True)
class EstimateEntry(Entry):
    value: str
    method: str
    inputs: str


@dataclass(frozen=True, kw_only=True)
class ChangeEntry(Entry):
    """A loss or another adjustment of stock."""

    quantity: str
    reason: str
    who: str
    reference: str


@dataclass(frozen=True, kw_only=True)
class ShipmentEntry(Entry):
    number: str
    customer: str
    quantity: str
    document: str
    ship_from: str


@dataclass(frozen=True, kw_only=True)
class MoveEntry(Entry):
    quantity: str
    origin: str
    destination: str


@dataclass(frozen=True, kw_only=True)
class HoldEntry(Entry):
    cause: str
    reason: str
    lifted: str


@dataclass(frozen=True, kw_only=True)
class FlagEntry(Entry):
    what: str
    text: str
    settled: str


@dataclass(frozen=True, kw_only=True)
class LineCheckEntry(Entry):
    """A check around the bottling line: clearance, wash, breakage, bottles kept."""

    what: str
    text: str


@dataclass(frozen=True, kw_only=True)
class DeviationEntry(Entry):
    """Something that went wrong with the lot, and how it was corrected."""

    what: str
    title: str
    text: str
    corrected: str


@dataclass(frozen=True)
class LimitEntry:
    """A limit that binds the lot, and what was found of it."""

    title: str
    comparison: str
    consequence: str
    source: str
    found: str


@dataclass(frozen=True)
class SignatureEntry:
    """An electronic signature about the lot. `digest` begins the digest of what was signed."""

    when: str
    name: str
    meaning: str
    statement: str
    digest: str


@dataclass(frozen=True)
class PlannedAmount:
    """A line of the recipe scaled to the planned volume, and what was used of it by lot."""

    what: str
    per_litre: str
    planned: str
    used: str
    difference: str
    lots: tuple[str, ...]


@dataclass(frozen=True)
class BalanceLine:
    """A line of the mass balance, in the reader's units. Totals are set apart."""

    what: str
    amount: str
    is_total: bool = False


@dataclass(frozen=True)
class LotPacket:
    """Everything a lot sheet says. `kind` is the lot's kind; `code` its lot code.

    `courses` are its readings as pictures, point by point.
    """

    head: Head
    kind: str
    code: str
    description: str
    blocks: tuple[str, ...]
    identity: tuple[Pair, ...]
    planned_volume: str
    planned: tuple[PlannedAmount, ...]
    uses_in: tuple[UseEntry, ...]
    uses_out: tuple[UseEntry, ...]
    steps: tuple[StepEntry, ...]
    courses: tuple[Plot, ...]
    readings: tuple[ReadingEntry, ...]
    conditions: tuple[ConditionEntry, ...]
    lab_results: tuple[LabEntry, ...]
    estimates: tuple[EstimateEntry, ...]
    line_checks: tuple[LineCheckEntry, ...]
    changes: tuple[ChangeEntry, ...]
    shipments: tuple[ShipmentEntry, ...]
    moves: tuple[MoveEntry, ...]
    balance: tuple[BalanceLine, ...]
    holds: tuple[HoldEntry, ...]
    flags: tuple[FlagEntry, ...]
    limits: tuple[LimitEntry, ...]
    deviations: tuple[DeviationEntry, ...]
    signatures: tuple[SignatureEntry, ...]
    cautions: tuple[str, ...] = field(default=())

    def to_json(self) -> str:
        """The same facts as JSON, two spaces deep, in the order they are printed."""
        return json.dumps(asdict(self), ensure_ascii=False, indent=2) + "\n"
