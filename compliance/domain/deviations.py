"""Deviations and their correction; what becomes of a held lot, and of bottles that left."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from brewlog.domain.batches import transfer
from brewlog.domain.blocks import hold_reach
from brewlog.domain.cultures import keep_back
from brewlog.domain.holds import (
    end_hold_at,
    lift,
    refuse_who_does_not_review,
    refuse_without_authority,
)
from brewlog.domain.instruments import readings_in_doubt
from brewlog.domain.lots import save_changed, save_new
from brewlog.domain.stock import adjust
from brewlog.models import Calibration, Hold, Lot, LotKind, ShipmentLine, StockAdjustment, User
from brewlog.recording import Refused, recording
from brewlog.trace import ancestor_ids, descendant_ids
from brewlog.units import Quantity
from brewlog.when import When, now
from compliance.domain.signing import Contents, as_signed, contents_about, sign
from compliance.models import (
    CorrectiveAction,
    Deviation,
    DeviationLot,
    Disposition,
    MarketDecision,
    Signature,
)

_K = Disposition.Kind


# Deviations --------------------------------------------------------------------------------


def open_deviation(
    *,
    actor: User,
    kind: str,
    title: str,
    what_happened: str,
    lots: Iterable[Lot] = (),
    when: When | None = None,
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
    **links: Any,
) -> Deviation:
    """Write down that something went wrong, and which lots it touches."""
    with recording(actor, reason):
        deviation = Deviation(
            kind=kind,
            title=title,
            what_happened=what_happened,
            done_by=done_by or actor,
            note=note,
            **links,
        )
        deviation.when = when or now()
        save_new(deviation)
        for lot in lots:
            save_new(DeviationLot(deviation=deviation, lot_id=lot.pk))
        return deviation


def add_lots(
    *, actor: User, deviation: Deviation, lots: Iterable[Lot], reason: str
) -> list[DeviationLot]:
    """Name further lots that a deviation touches, with how that was found out.

    Raises `Refused` for a closed one, whose signature says which lots were looked at, and for
    a lot it names already.
    """
    if not reason.strip():
        raise Refused({"reason": "Say how it was found that it touches them too."})
    with recording(actor, reason.strip()):
        deviation.reread()
        if not deviation.is_open:
            raise Refused(
                {
                    "deviation": f"{deviation} is closed and signed for the lots it names. Open "
                    "another deviation for what was found since."
                }
            )
        lots = list(lots)
        named = set(deviation.lots.live().values_list("lot", flat=True))
        twice = [lot.code for lot in lots if lot.pk in named]
        if twice:
            raise Refused({"lots": f"{', '.join(twice)} is named there already. Leave it out."})
        added = [DeviationLot(deviation=deviation, lot_id=lot.pk) for lot in lots]
        if not added:
            raise Refused({"lots": "Name at least one lot by its code."})
        for link in added:
            save_new(link)
        return added


def open_look_back(*, actor: User, calibration: Calibration, reason: str = "") -> Deviation:
    """One deviation for an instrument found out: every reading since the last good
    calibration, and every lot that leaned on it. Raises `Refused` where it was not out."""
    if not calibration.was_out:
        raise Refused(f"{calibration.instrument} was not out of tolerance on {calibration.when}.")
    with recording(actor, reason):
        if Deviation.objects.live().filter(calibration=calibration).exists():
            raise Refused("The look-back for this calibration is open already.")
        doubt = readings_in_doubt(calibration)
        since = f"since {doubt.last_good.when}" if doubt.last_good else "since it came into use"
        listed = [f"{each} on {each.when}" for each in (*doubt.readings, *doubt.steps)]
        return open_deviation(
            actor=actor,
            kind=Deviation.Kind.INSTRUMENT,
            title=f"{calibration.instrument} out of tolerance: {len(listed)} readings {since}",
            what_happened="\n".join(listed) or "Nothing was read with it in that time.",
            lots=doubt.lots,
            when=calibration.when,
            calibration=calibration,
        )


def correct_deviation(
    *,
    actor: User,
    deviation: Deviation,
    problem_corrected: str,
    made_less_likely: str,
    product_evaluated: str,
    kept_out: str,
    password: str,
    plan_reanalysed: bool = False,
    when: When | None = None,
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
) -> CorrectiveAction:
    """Close a deviation: all four parts written, and signed.

    Raises `Refused` where a part is missing, a hold behind it is still open, or nobody had
    thought of it before and the hazard plan was not looked at again.
    """
    refuse_who_does_not_review(actor, "decides this")
    parts = {
        "problem_corrected": problem_corrected,
        "made_less_likely": made_less_likely,
        "product_evaluated": product_evaluated,
        "kept_out": kept_out,
    }
    missing = {name: "Write this part too." for name, text in parts.items() if not text.strip()}
    if missing:
        raise Refused(missing)
    if deviation.kind == Deviation.Kind.UNANTICIPATED and not plan_reanalysed:
        raise Refused(
            {"plan_reanalysed": "Nobody had thought of it: look at the hazard plan again first."}
        )
    with recording(actor, reason):
        deviation.reread()
        _refuse_closing(deviation)
        action = CorrectiveAction(
            deviation=deviation,
            plan_reanalysed=plan_reanalysed,
            done_by=done_by or actor,
            note=note,
            **{name: text.strip() for name, text in parts.items()},
        )
        action.when = when or now()
        save_new(action)
        action.signature = sign(
            actor=actor,
            password=password,
            meaning=Signature.Meaning.CORRECTION,
            contents=_contents_of(deviation, action),
        )
        save_changed(action)
        return action


def _refuse_closing(deviation: Deviation) -> None:
    if not deviation.is_open:
        raise Refused({"deviation": f"{deviation} is closed already."})
    if deviation.hold is not None and deviation.hold.is_open:
        raise Refused(
            {"deviation": f"{deviation.hold} is still open. Decide what becomes of the lot first."}
        )


def _contents_of(deviation: Deviation, action: CorrectiveAction) -> Contents:
    links = deviation.lots.live().order_by("pk")
    records = [deviation, action, *links]
    return {f"{each._meta.model_name}:{each.pk}": as_signed(each) for each in records}


# What becomes of a held lot ----------------------------------------------------------------


def dispose(
    *,
    actor: User,
    hold: Hold,
    lot: Lot,
    kind: str,
    why: str,
    password: str,
    quantity: Quantity | None = None,
    witness: str = "",
    target: Lot | None = None,
    authority_asked: str = "",
    when: When | None = None,
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
) -> Disposition:
    """Decide what becomes of one lot under one hold, sign it, and carry it out in the record.

    *Release* ends the hold at that lot. *Destroy* writes the amount off before a witness.
    *Rework* moves it into the named batch. *Strong starter* keeps it back as a culture.
    Raises `Refused` for what the cause does not allow, and for alcohol over the line until
    the authority was asked.
    """
    refuse_who_does_not_review(actor, "decides this")
    if not why.strip():
        raise Refused({"why": "Say why, on what evidence."})
    moment = when or now()
    with recording(actor, reason or why):
        hold.reread()
        _refuse_not_allowed(hold, lot, kind, authority_asked)
        signature = sign(
            actor=actor,
            password=password,
            meaning=Signature.Meaning.DISPOSITION,
            contents={**contents_about(lot), f"hold:{hold.pk}": as_signed(hold)},
            statement=f"{Disposition.Kind(kind).label}: {why.strip()}"[:200],
        )
        adjustment = None
        if kind == _K.RELEASE:
            _let_go(actor, hold, lot, why, moment, authority_asked)
        else:
            adjustment = _carry_out(
                actor, lot, kind, why, moment, quantity, witness, target, done_by
            )
        found = Disposition(
            hold=hold,
            lot_id=lot.pk,
            kind=kind,
            reason=why.strip(),
            target_id=target.pk if target else None,
            adjustment=adjustment,
            authority_asked=authority_asked,
            signature=signature,
            done_by=done_by or actor,
            note=note,
        )
        found.when = moment
        save_new(found)
        return found


def _refuse_not_allowed(hold: Hold, lot: Lot, kind: str, authority_asked: str) -> None:
    if not hold.is_open:
        raise Refused({"hold": f"{hold} was lifted already: {hold.lift_reason}"})
    if lot.pk not in hold_reach(hold):
        raise Refused({"lot": f"{lot} is not held by that: {hold}."})
    allowed = Disposition.ALLOWED[Hold.Cause(hold.cause)]
    if kind not in allowed:
        listed = ", ".join(each.label for each in allowed)
        raise Refused({"kind": f"For {hold.get_cause_display()} there is only: {listed}."})
    refuse_without_authority(hold, authority_asked)


def _carry_out(
    actor: User,
    lot: Lot,
    kind: str,
    why: str,
    when: When,
    quantity: Quantity | None,
    witness: str,
    target: Lot | None,
    done_by: User | None,
) -> StockAdjustment | None:
    """Write in the record what the decision means."""
    if quantity is None:
        raise Refused({"quantity": "Write how much of it."})
    if kind == _K.DESTROY:
        return adjust(
            actor=actor,
            lot=lot,
            quantity=quantity,
            why=StockAdjustment.Reason.DESTROYED,
            when=when,
            witness=witness,
            done_by=done_by,
        )
    if kind == _K.REWORK:
        if target is None:
            raise Refused({"target": "Name the batch it goes into."})
        transfer(
            actor=actor,
            source=lot,
            into=target,
            quantity=quantity,
            when=when,
            done_by=done_by,
            already_done=True,
        )
        return None
    keep_back(
        actor=actor,
        batch=lot,
        quantity=quantity,
        when=when,
        done_by=done_by,
        already_done=True,
        note=f"strong starter: {why}",
    )
    return None


def _let_go(actor: User, hold: Hold, lot: Lot, why: str, when: When, authority_asked: str) -> None:
    """Lift the hold where it is the lot's own; else end it at the lot."""
    if hold.lot_id == lot.pk:
        lift(
            actor=actor,
            lot=lot,
            reason=why,
            cause=hold.cause,
            when=when,
            authority_asked=authority_asked,
        )
    else:
        end_hold_at(actor=actor, hold=hold, lot=lot, reason=why, when=when)


def suggested_with(hold: Hold) -> list[Lot]:
    """Lots to look at besides, for mould and failed acidification: what the held lot was made
    from of living culture, and what else came from the same starters. Suggested, not held."""
    if hold.cause not in {Hold.Cause.MOULD, Hold.Cause.ACIDIFICATION}:
        return []
    living = (LotKind.CULTURE, LotKind.BATCH)
    parents = Lot.objects.live().filter(pk__in=ancestor_ids([hold.lot_id]), kind__in=living)
    near = set(parents.filter(uses_out__into=hold.lot_id).values_list("pk", flat=True))
    siblings = descendant_ids(near) if near else set()
    reached = hold_reach(hold)
    candidates = (near | siblings) - reached - {hold.lot_id}
    return list(Lot.objects.live().filter(pk__in=candidates, kind__in=living).order_by("pk"))


# Bottles that left -------------------------------------------------------------------------


def shipped_under(hold: Hold) -> int:
    """Bottles that left from what a hold reaches."""
    lines = ShipmentLine.objects.live().filter(lot__in=hold_reach(hold))
    return sum(lines.values_list("quantity", flat=True))


def market_decision_needed(hold: Hold) -> bool:
    """Whether bottles left from what it reaches and nobody has decided about them yet."""
    decided = MarketDecision.objects.live().filter(hold=hold).exists()
    return hold.is_open and not decided and shipped_under(hold) > 0


def decide_market(
    *,
    actor: User,
    hold: Hold,
    kind: str,
    why: str,
    hazard: str,
    password: str,
    when: When | None = None,
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
) -> MarketDecision:
    """Decide, and sign, what is done about bottles that left. A person weighs the hazard; your
    authority's own duties to report come first. Raises `Refused` where nothing left."""
    refuse_who_does_not_review(actor, "decides this")
    if not why.strip() or not hazard.strip():
        field = "why" if not why.strip() else "hazard"
        raise Refused({field: "Write this part too: it is what the decision stands on."})
    if not shipped_under(hold):
        raise Refused({"hold": f"Nothing of what {hold} reaches has left."})
    with recording(actor, reason or why):
        signature = sign(
            actor=actor,
            password=password,
            meaning=Signature.Meaning.WITHDRAWAL,
            contents={f"hold:{hold.pk}": as_signed(hold)},
            statement=f"{MarketDecision.Kind(kind).label}: {why.strip()}"[:200],
        )
        found = MarketDecision(
            hold=hold,
            kind=kind,
            reason=why.strip(),
            hazard=hazard.strip(),
            signature=signature,
            done_by=done_by or actor,
            note=note,
        )
        found.when = when or now()
        save_new(found)
        return found
