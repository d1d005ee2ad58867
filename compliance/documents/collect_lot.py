"""The collector of the lot sheet: every entry of one lot, in a fixed number of queries."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import replace

from django.db.models import QuerySet

from brewlog.calculations.base import Units
from brewlog.charts.courses import courses
from brewlog.charts.plot import Plot
from brewlog.domain.blocks import blocks
from brewlog.domain.stages import happenings
from brewlog.ledger import mass_balance
from brewlog.models import (
    AlcoholEstimate,
    Calibration,
    Checkpoint,
    ConditionCheck,
    Hold,
    HoldEnd,
    LabResult,
    Lot,
    LotKind,
    LotUse,
    Move,
    ProcessStep,
    ReviewFlag,
    ShipmentLine,
    StockAdjustment,
    User,
)
from brewlog.units import US, show_temperature
from compliance.documents.as_read import Told
from compliance.documents.collect_identity import identity_of
from compliance.documents.collect_line_checks import line_checks_of
from compliance.documents.collect_plan import planned_of
from compliance.documents.collect_signed import Limits, deviations_of, signatures_of, signed_state
from compliance.documents.lot_packet import (
    BalanceLine,
    ChangeEntry,
    ConditionEntry,
    EstimateEntry,
    FlagEntry,
    HoldEntry,
    LabEntry,
    LotPacket,
    MoveEntry,
    ReadingEntry,
    ShipmentEntry,
    StepEntry,
    UseEntry,
)
from compliance.documents.printing import (
    DETAIL_PATHS,
    Desk,
    desk,
    detail_paths,
    entry_fields,
    moment,
    suppliers_code,
    void_mark,
    what,
)

PEOPLE = ("done_by", "recorded_by", "voided_by")
IDENTITY_PATHS = (
    "as_ingredient__decided_by",
    "as_culture__vessel",
    "as_culture__supplier",
    "as_culture__retired_by",
    "as_brew__kettle",
    "as_brew__recipe__approved_by",
    "as_batch__recipe__approved_by",
)

CAUTIONS = {
    # common practice
    LotKind.INGREDIENT: "Keep dry and closed, away from cleaning agents.",
    LotKind.PREPARATION: (
        "Hot syrup and juice scald. Cool quickly, cover, keep cold, use within the date given."
    ),
    LotKind.CULTURE: (
        "Mould on a culture: do not taste it, do not scrape it off. Keep the vessel apart and "
        "call the reviewer. Discard culture and drink together."
    ),
    LotKind.BREW: "Boiling water and steam scald. Cool before adding starter.",
    LotKind.BATCH: (
        "Carbon dioxide from ferments gathers low in closed rooms and tanks and suffocates: "
        "air before you go in, never alone. The drink is acid and holds some alcohol."
    ),
    LotKind.BOTTLING: (
        "Bottles under pressure burst: eye protection and gloves, keep cold, chill before "
        "opening, never fill unknown or damaged bottles. The drink goes on making alcohol and "
        "gas when warm."
    ),
}
ALWAYS = "Local codes and licensed practice come before this paper."


def collect_lot(lot: Lot, *, printed_by: User | str, printed_at: dt.datetime) -> LotPacket:
    """Everything recorded of a lot, voided entries included and marked."""
    with desk(printed_by, printed_at) as at_desk:
        lot = Lot.objects.select_related(*DETAIL_PATHS, *IDENTITY_PATHS, *PEOPLE).get(pk=lot.pk)
        kept_back = blocks(lot)
        state = signed_state(lot, kept_back)
        limits = Limits(lot)
        ins = list(_uses(lot, "into", "source"))
        plan = planned_of(lot, ins, at_desk)
        return LotPacket(
            head=at_desk.head("Lot sheet", f"Lot {lot.code}", state),
            kind=lot.get_kind_display(),
            code=lot.code,
            description=what(lot),
            blocks=tuple(Told(block.text) for block in kept_back),
            identity=identity_of(lot, at_desk),
            planned_volume=plan.volume,
            planned=plan.lines,
            uses_in=tuple(_use(use, use.source) for use in ins),
            uses_out=tuple(_use(use, use.into) for use in _uses(lot, "source", "into")),
            steps=tuple(_step(step) for step in _of(ProcessStep, lot, "instrument")),
            courses=_courses(lot, at_desk),
            readings=_readings(lot, limits),
            conditions=tuple(_condition(check) for check in _of(ConditionCheck, lot)),
            lab_results=tuple(_lab(result, limits) for result in _of(LabResult, lot)),
            estimates=tuple(_estimate(each) for each in _of(AlcoholEstimate, lot)),
            line_checks=line_checks_of(lot),
            changes=tuple(_change(each) for each in _of(StockAdjustment, lot, "customer")),
            shipments=_shipments(lot),
            moves=tuple(_move(move) for move in _of(Move, lot, "from_location", "to_location")),
            balance=_balance(lot, at_desk),
            holds=_holds(lot),
            flags=_flags(lot),
            limits=limits.entries(),
            deviations=deviations_of(lot),
            signatures=signatures_of(lot),
            cautions=(CAUTIONS[LotKind(lot.kind)], ALWAYS),
        )


def _courses(lot: Lot, at_desk: Desk) -> tuple[Plot, ...]:
    drawn = courses(lot, happenings(lot), Units(us=at_desk.units == US))
    return tuple(_told_in(course.plot) for course in drawn)


def _told_in(plot: Plot) -> Plot:
    """The plot with the program's words marked as such: from when it counts, and its limits."""
    limits = tuple(replace(each, words=Told(each.words)) for each in plot.limits)
    return replace(plot, x_title=Told(plot.x_title), limits=limits)


def _of(model: type, lot: Lot, *links: str) -> QuerySet:
    """The lot's entries of one kind, in the order they happened."""
    rows = model.objects.filter(lot=lot.pk).select_related(*PEOPLE, *links)  # type: ignore[attr-defined]
    return rows.order_by("happened_at", "id")


def _uses(lot: Lot, this_end: str, other_end: str) -> QuerySet[LotUse]:
    rows = LotUse.objects.filter(**{this_end: lot.pk})
    links = detail_paths(other_end)
    return rows.select_related(*PEOPLE, other_end, *links).order_by("happened_at", "id")


def _use(use: LotUse, other: Lot) -> UseEntry:
    return UseEntry(
        **entry_fields(use),
        other=other.code,
        kind=other.get_kind_display(),
        what=what(other),
        quantity=use.quantity_text,
        purpose=use.get_purpose_display(),
        their_code=suppliers_code(other),
    )


def _step(step: ProcessStep) -> StepEntry:
    shown = Told(show_temperature(step.temperature) if step.temperature is not None else "")
    return StepEntry(
        **entry_fields(step),
        what=step.get_kind_display(),
        temperature=step.temperature_text or shown,
        volume=step.volume_text,
        minutes=f"{step.minutes} min" if step.minutes is not None else "",
        instrument=str(step.instrument or ""),
    )


def _readings(lot: Lot, limits: Limits) -> tuple[ReadingEntry, ...]:
    rows = list(_of(Checkpoint, lot, "instrument"))
    calibrations: dict[int, list[Calibration]] = defaultdict(list)
    used = {row.instrument_id for row in rows if row.instrument_id}
    for each in Calibration.objects.live().filter(instrument__in=used).order_by("happened_at"):
        calibrations[each.instrument_id].append(each)
    return tuple(_reading(row, calibrations[row.instrument_id or 0], limits) for row in rows)


def _reading(row: Checkpoint, calibrations: Iterable[Calibration], limits: Limits) -> ReadingEntry:
    name, _, unit = row.get_measurand_display().partition(", ")
    replicate = f" ({row.replicate})" if row.replicate > 1 else ""
    sample = row.sample_temperature
    return ReadingEntry(
        **entry_fields(row),
        what=f"{name}{replicate}",
        stage=row.get_stage_display(),
        value=with_unit(row.value_text, unit),
        sample_temperature=Told(show_temperature(sample) if sample is not None else ""),
        instrument=str(row.instrument or ""),
        calibration=calibration_at(row, calibrations) if row.instrument else "",
        limit=limits.of_reading(row),
    )


def with_unit(typed: str, unit: str) -> str:
    """The value as typed; a bare number takes the unit it was kept in."""
    bare = not any(letter.isalpha() or letter in "°%" for letter in typed)
    return f"{typed} {unit}".strip() if bare else typed


def calibration_at(row: Checkpoint, calibrations: Iterable[Calibration]) -> str:
    """The state of the instrument when the reading was taken, in words.

    `calibrations` in the order of time. A later one that found it out of tolerance puts
    the reading in doubt, unless the instrument was found good in between.
    """
    before = [c for c in calibrations if not row.when.provably_before(c.when)]
    after = [c for c in calibrations if row.when.provably_before(c.when)]
    words = "no calibration on record"
    if before:
        last = before[-1]
        words = f"{last.get_outcome_display()} {last.when}"
        if last.due_on and row.when.at.date() > last.due_on:
            words += f", overdue since {last.due_on}"
    if after and after[0].was_out:
        words += f"; IN DOUBT: {after[0].get_outcome_display()} {after[0].when}"
    return Told(words)


def _condition(check: ConditionCheck) -> ConditionEntry:
    found = [check.get_mould_display()]
    found += [
        word
        for is_there, word in (
            (check.kahm_yeast, "kahm yeast"),
            (check.vinegar_eels, "vinegar eels"),
            (check.flies, "flies or larvae"),
        )
        if is_there
    ]
    senses = (("smell", check.smell), ("look", check.look), ("taste", check.taste))
    return ConditionEntry(
        **entry_fields(check),
        findings=", ".join(found),
        senses="; ".join(f"{name}: {words}" for name, words in senses if words),
        verdict=check.get_verdict_display(),
    )


def _lab(result: LabResult, limits: Limits) -> LabEntry:
    name, _, unit = result.get_measurand_display().partition(", ")
    uncertainty = result.standard_uncertainty
    reported = f"reported {result.reported_on}" if result.reported_on else ""
    return LabEntry(
        **entry_fields(result),
        what=name,
        value=with_unit(result.value_text, unit),
        uncertainty=f"{uncertainty.normalize():f}" if uncertainty is not None else "",
        laboratory=result.laboratory,
        method=result.method,
        report=", ".join(part for part in (result.report_number, reported) if part),
        limit=limits.of_result(result),
    )


def _estimate(estimate: AlcoholEstimate) -> EstimateEntry:
    return EstimateEntry(
        **entry_fields(estimate),
        value=f"{estimate.value} ± {estimate.standard_uncertainty} % vol (k = 1)",
        method=f"{estimate.method}, calculation {estimate.calculation_version}",
        inputs=estimate.inputs,
    )


def _change(change: StockAdjustment) -> ChangeEntry:
    who = [f"witness {change.witness}"] if change.witness else []
    who += [f"from {change.customer}"] if change.customer else []
    return ChangeEntry(
        **entry_fields(change),
        quantity=f"{'+' if change.change > 0 else '−'}{change.quantity_text.lstrip('-+−')}",
        reason=change.get_reason_display(),
        who=", ".join(who),
        reference=change.reference,
    )


def _shipments(lot: Lot) -> tuple[ShipmentEntry, ...]:
    lines = ShipmentLine.objects.filter(lot=lot.pk).select_related(
        "voided_by",
        "shipment__customer",
        "shipment__ship_from",
        *(f"shipment__{who}" for who in PEOPLE),
    )
    return tuple(_shipment(line) for line in lines.order_by("shipment__happened_at", "id"))


def _shipment(line: ShipmentLine) -> ShipmentEntry:
    shipment = line.shipment
    document = f"{shipment.document_type} {shipment.document_number}".strip()
    fields = {**entry_fields(shipment), "void": void_mark(line) or void_mark(shipment)}
    fields["note"] = "; ".join(note for note in (line.note, shipment.note) if note)
    return ShipmentEntry(
        **fields,
        number=shipment.number,
        customer=str(shipment.customer),
        quantity=line.quantity_text,
        document=document,
        ship_from=str(shipment.ship_from or ""),
    )


def _move(move: Move) -> MoveEntry:
    return MoveEntry(
        **entry_fields(move),
        quantity=move.quantity_text,
        origin=str(move.from_location or ""),
        destination=str(move.to_location),
    )


def _holds(lot: Lot) -> tuple[HoldEntry, ...]:
    """The lot's own holds, then those of other lots that were ended at this one."""
    ended = _of(HoldEnd, lot, "hold__lot")
    own = [_hold(hold) for hold in _of(Hold, lot, "lifted_by")]
    return (*own, *(_ended_here(end) for end in ended if end.hold.lot_id != lot.pk))


def _ended_here(end: HoldEnd) -> HoldEntry:
    return HoldEntry(
        **entry_fields(end),
        cause=f"{end.hold.get_cause_display()}, held with {end.hold.lot}",
        reason=Told(end.hold.reason),
        lifted="" if end.is_void else Told(f"ended at this lot {end.when} by {end.done_by}"),
    )


def _hold(hold: Hold) -> HoldEntry:
    lifted = (
        Told(f"lifted {moment(hold.lifted_at)} by {hold.lifted_by}: {hold.lift_reason}")
        if hold.lifted_at
        else "OPEN"
    )
    return HoldEntry(
        **entry_fields(hold),
        cause=hold.get_cause_display(),
        reason=Told(hold.reason),
        lifted="" if hold.is_void else lifted,
    )


def _flags(lot: Lot) -> tuple[FlagEntry, ...]:
    rows = ReviewFlag.objects.filter(lot=lot.pk).select_related(
        "recorded_by", "voided_by", "settled_by"
    )
    return tuple(_flag(flag) for flag in rows.order_by("recorded_at", "id"))


def _flag(flag: ReviewFlag) -> FlagEntry:
    settled = (
        Told(f"settled {moment(flag.settled_at)} by {flag.settled_by}: {flag.settled_note}")
        if flag.settled_at
        else "OPEN"
    )
    return FlagEntry(
        when=moment(flag.recorded_at),
        by=str(flag.recorded_by),
        void=void_mark(flag),
        what=flag.get_kind_display(),
        text=Told(flag.text),
        settled="" if flag.is_void else settled,
    )


def _balance(lot: Lot, at_desk: Desk) -> tuple[BalanceLine, ...]:
    """What there was, where it went, what should be there: the lines add up."""
    found = mass_balance(lot)

    def line(words: str, amount: int, is_total: bool = False) -> BalanceLine:
        return BalanceLine(words, at_desk.amount(amount, found.dimension), is_total)

    made = "made or received" if lot.made is not None else "went in (amount not measured yet)"
    lines = [line(made, found.made)]
    lines += [line("added later", found.added)] if found.added else []
    purposes, reasons = dict(LotUse.Purpose.choices), dict(StockAdjustment.Reason.choices)
    lines += [line(f"used: {purposes[key]}", -amount) for key, amount in found.used.items()]
    lines += [line("shipped", -found.shipped)] if found.shipped else []
    lines += [line(str(reasons[key]), amount) for key, amount in found.adjusted.items()]
    if found.unexplained:
        lines.append(line("unexplained: more left than the books had", found.unexplained))
    return (*lines, line("should be on hand", found.on_hand, is_total=True))
