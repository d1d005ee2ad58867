"""What a lot sheet says of decisions: its state, the limits, deviations and signatures."""

from __future__ import annotations

from collections.abc import Iterable

from django.db.models import Q
from django.utils import timezone

from brewlog.domain.blocks import Block
from brewlog.models import Checkpoint, LabResult, Lot, LotKind
from compliance.assessment import Finding, assess_lot
from compliance.assessment.judging import stages_of
from compliance.documents.as_read import Told
from compliance.documents.lot_packet import DeviationEntry, LimitEntry, SignatureEntry
from compliance.documents.printing import DRAFT, entry_fields, moment, state_of
from compliance.domain.releases import changed_after_release, standing_release
from compliance.domain.rulesets import in_force
from compliance.domain.signing import changes_since, contents_about, is_intact
from compliance.models import (
    CorrectiveAction,
    Deviation,
    Limit,
    LimitKind,
    Review,
    Signature,
)

CHANGED = "CHANGED AFTER SIGNATURE"


# The state -----------------------------------------------------------------------------------


def signed_state(lot: Lot, found: list[Block]) -> str:
    """The state with what was signed: released or reviewed, and whether it was changed since."""
    plain = state_of(lot, found)
    signed = _signed(lot) if DRAFT in plain else ""
    return Told(plain.replace(DRAFT, signed) if signed else plain)


def _signed(lot: Lot) -> str:
    """What stands signed of the lot, in words; nothing where it is a draft."""
    if lot.kind == LotKind.BOTTLING:
        released = standing_release(lot)
        if released is None:
            return ""
        return _in_words("released", released.signature, bool(changed_after_release(lot)))
    review = Review.objects.live().filter(lot=lot.pk).select_related("signature").last()
    if review is None:
        return ""
    changed = bool(changes_since(review.signature, contents_about(lot)))
    return _in_words("reviewed", review.signature, changed)


def _in_words(done: str, signature: Signature, changed: bool) -> str:
    words = f"{done} {moment(signature.signed_at)} by {signature.printed_name}"
    return Told(f"{words}; {CHANGED}" if changed else words)


# The limits ----------------------------------------------------------------------------------

# Limits on one value: they stand beside the readings they are about.
_ON_A_VALUE = {LimitKind.VALUE, LimitKind.BY_DEADLINE, LimitKind.PEAK}


class Limits:
    """The limits that bind a lot, and what was found of each."""

    def __init__(self, lot: Lot) -> None:
        day = timezone.localtime(lot.happened_at).date()
        self._limits = [each for each in in_force(day) if each.lot_kind in ("", lot.kind)]
        assessed = assess_lot(lot) if self._limits and not lot.is_void else None
        self._findings = {each.limit.pk: each for each in assessed.findings} if assessed else {}
        self._awaited = {each.limit.pk: each.text for each in assessed.awaited} if assessed else {}
        readings = Checkpoint.objects.live().filter(lot=lot.pk)
        results = LabResult.objects.live().filter(lot=lot.pk)
        self._taken = set(readings.values_list("measurand", "stage").distinct())
        self._tested = set(results.values_list("measurand", flat=True).distinct())

    def entries(self) -> tuple[LimitEntry, ...]:
        return tuple(self._entry(limit) for limit in self._limits)

    def _entry(self, limit: Limit) -> LimitEntry:
        finding = self._findings.get(limit.pk)
        return LimitEntry(
            title=limit.title,
            comparison=Told(limit.comparison or (f"'{limit.words}'" if limit.words else "")),
            consequence=limit.get_consequence_display().partition(":")[0],
            source=f"{limit.ruleset.title}, {limit.citation}",
            found=Told(_found(finding) or self._awaited.get(limit.pk, "") or self._silent(limit)),
        )

    def _silent(self, limit: Limit) -> str:
        """What it means that nothing was found: that it holds, or that nothing was measured."""
        stages = stages_of(limit) if limit.stage else ()
        read = any(
            measurand == limit.measurand and (not stages or stage in stages)
            for measurand, stage in self._taken
        )
        if limit.kind not in _ON_A_VALUE or read or limit.measurand in self._tested:
            return "nothing against it"
        return "nothing measured shows it"

    def of_reading(self, reading: Checkpoint) -> str:
        """What the value is held to at its stage, as the limits write it."""
        return self._beside(
            limit
            for limit in self._of(reading.measurand)
            if not limit.stage or reading.stage in stages_of(limit)
        )

    def of_result(self, result: LabResult) -> str:
        return self._beside(self._of(result.measurand))

    def _of(self, measurand: str) -> list[Limit]:
        return [
            limit
            for limit in self._limits
            if limit.kind in _ON_A_VALUE and limit.measurand == measurand and limit.operator
        ]

    def _beside(self, limits: Iterable[Limit]) -> str:
        return ", ".join(dict.fromkeys(_bare(limit) for limit in limits))


def _bare(limit: Limit) -> str:
    """`≤ 4.2`, or `≤ 4.2 in 7 d` where there is a deadline."""
    assert limit.value is not None
    within = limit.within_hours
    clock = (
        f" in {float(within) / 24:.3g} d" if limit.kind == LimitKind.BY_DEADLINE and within else ""
    )
    return f"{limit.sign.sign} {limit.value.normalize():f}{clock}"


def _found(finding: Finding | None) -> str:
    return f"{finding.plain}: {finding.text}" if finding else ""


# Deviations and signatures -------------------------------------------------------------------


def deviations_of(lot: Lot) -> tuple[DeviationEntry, ...]:
    """The deviations that touch the lot, with how each was corrected."""
    rows = Deviation.objects.filter(lots__lot=lot.pk, lots__voided_at__isnull=True)
    rows = rows.select_related("done_by", "recorded_by", "voided_by").order_by("happened_at", "id")
    corrections = CorrectiveAction.objects.live().filter(deviation__in=rows)
    by_deviation = {
        each.deviation_id: each for each in corrections.select_related("signature").order_by("id")
    }
    return tuple(_deviation(row, by_deviation.get(row.pk)) for row in rows)


def _deviation(row: Deviation, correction: CorrectiveAction | None) -> DeviationEntry:
    corrected = "OPEN"
    if correction is not None and correction.signature is not None:
        signature = correction.signature
        corrected = Told(
            f"corrected: {correction.problem_corrected}; "
            f"signed {moment(signature.signed_at)} by {signature.printed_name}"
        )
    return DeviationEntry(
        **entry_fields(row),
        what=row.get_kind_display(),
        title=Told(row.title),
        text=Told(row.what_happened),
        corrected="" if row.is_void else corrected,
    )


def signatures_of(lot: Lot) -> tuple[SignatureEntry, ...]:
    """Who signed what about the lot, in the order of time."""
    about = Q(reviews__lot=lot.pk) | Q(releases__lot=lot.pk) | Q(undone_releases__lot=lot.pk)
    about |= Q(dispositions__lot=lot.pk) | Q(corrections__deviation__lots__lot=lot.pk)
    rows = Signature.objects.live().filter(about).distinct().order_by("signed_at", "id")
    return tuple(
        SignatureEntry(
            when=moment(row.signed_at),
            name=row.printed_name,
            meaning=row.get_meaning_display(),
            statement=row.statement,
            digest=row.digest[:12] if is_intact(row) else "NOT AS IT WAS SIGNED",
        )
        for row in rows
    )
