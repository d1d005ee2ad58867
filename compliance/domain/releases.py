"""Review of a lot's records, and its release for sale: a check-list, a signature, its undoing."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Count, Exists, Min, OuterRef
from django.utils import timezone

from brewlog.domain.blocks import Block, blocks
from brewlog.domain.holds import refuse_who_does_not_review
from brewlog.domain.lots import save_changed, save_new
from brewlog.ledger import ids_in
from brewlog.models import Checkpoint, Lot, LotKind, ReviewFlag, User
from brewlog.recording import Refused, recording
from brewlog.trace import ancestor_ids
from compliance.assessment import Finding, assess_lot
from compliance.domain.holidays import holidays, working_days_after
from compliance.domain.rulesets import in_force
from compliance.domain.signing import Change, Confirmed, changes_since, contents_about, sign
from compliance.models import (
    Deviation,
    Disposition,
    Limit,
    LimitKind,
    Release,
    Review,
    Signature,
    policy,
)


def standing_release(lot: Lot) -> Release | None:
    """The release that stands; None for a lot that was never released or whose was undone."""
    return Release.objects.live().filter(lot=lot.pk, undone_by__isnull=True).first()


def unreleased_block(lot: Lot, doing: str) -> list[Block]:
    """What keeps bottles from being sent out where the policy asks for release first."""
    since = policy().release_needed_since
    if doing != "sent out" or lot.kind != LotKind.BOTTLING or since is None:
        return []
    if timezone.localtime(lot.happened_at).date() < since or standing_release(lot):
        return []
    return [Block(lot, lot, f"{lot} is not released yet")]


# Review ------------------------------------------------------------------------------------


@dataclass(frozen=True)
class ReviewDue:
    """A lot with records nobody has reviewed: the oldest of them, and when review is due."""

    lot: Lot
    records: int
    oldest: dt.datetime
    due: dt.date

    @property
    def is_late(self) -> bool:
        return timezone.localdate() > self.due


def _waiting(among: Iterable[int] | None) -> Any:
    """Lots by how many of their readings were written since their last review, and when the
    first of those was; the oldest first."""
    seen = Review.objects.live().filter(lot=OuterRef("lot"), up_to__gte=OuterRef("recorded_at"))
    readings = Checkpoint.objects.live().filter(~Exists(seen), lot__isnull=False)
    if among is not None:
        readings = readings.filter(lot__in=ids_in(among))
    by_lot = readings.order_by().values("lot")
    return by_lot.annotate(records=Count("pk"), oldest=Min("recorded_at")).order_by("oldest", "lot")


def unreviewed(among: Iterable[int] | None = None) -> list[int]:
    """The keys of lots whose readings were written since their last review, the most pressing
    first: no more of each, as there may be thousands.

    `among` are the ids of the lots asked about; without it, all of them.
    """
    return list(_waiting(among).values_list("lot", flat=True))


def reviews_due(of: Iterable[int] | None = None) -> list[ReviewDue]:
    """Those lots, or all that wait, with the day by which someone reviews them."""
    waiting = list(_waiting(of).values_list("lot", "records", "oldest"))
    days, free = policy().review_within_days, holidays()
    lots = Lot.objects.in_bulk([lot for lot, _, _ in waiting])
    return [
        ReviewDue(
            lots[lot],
            records,
            oldest,
            working_days_after(timezone.localtime(oldest).date(), days, free),
        )
        for lot, records, oldest in waiting
    ]


def review(
    *, actor: User, lot: Lot, password: str | Confirmed, remark: str = "", reason: str = ""
) -> Review:
    """Sign that the lot's records up to now were looked at. Who signs for several lots enters
    the password once.

    Raises `Refused` for someone who does not review, or who took the readings, unless the
    policy says that one person does both; it is shown then.
    """
    refuse_who_does_not_review(actor, "signs this")
    own = _took_readings(actor, lot)
    if own and not policy().one_person:
        raise Refused(
            "You took some of these readings. Someone else reviews them, or the manager sets "
            "the policy for a one-person brewery."
        )
    with recording(actor, reason):
        signature = sign(
            actor=actor,
            password=password,
            meaning=Signature.Meaning.REVIEW,
            contents=contents_about(lot),
            statement=remark,
        )
        found = Review(
            lot_id=lot.pk,
            up_to=signature.signed_at,
            remark=remark,
            own_readings=own,
            signature=signature,
        )
        save_new(found)
        return found


def _took_readings(actor: User, lot: Lot) -> bool:
    return Checkpoint.objects.live().filter(lot=lot.pk, done_by=actor).exists()


# Release -----------------------------------------------------------------------------------


@dataclass(frozen=True)
class CheckItem:
    """One line of the release check-list, and what is still in its way.

    Each of `open` is said in words with what it is about: a block, a finding, the limit nothing
    was read for, a deviation, a flag, or the lot nobody has reviewed.
    """

    text: str
    open: tuple[tuple[str, object], ...] = ()

    @property
    def is_met(self) -> bool:
        return not self.open

    @property
    def detail(self) -> str:
        return "; ".join(words for words, _ in self.open)


def release_checklist(lot: Lot, findings: Sequence[Finding] | None = None) -> list[CheckItem]:
    """What must be so before bottles are released, by the rules that bind and the policy.

    `findings` are the lot's own of this moment, where they are known; else they are found here.
    """
    ancestors = ancestor_ids([lot.pk])
    kept_back = blocks(lot)
    if findings is None:
        findings = assess_lot(lot).findings
    needs_a_look = [
        each
        for each in findings
        if each.limit.consequence in _STOPS_RELEASE and not found_sound(each)
    ]
    unshown = limits_without_reading(lot)
    flags = ReviewFlag.objects.live().filter(lot__in=ancestors, settled_at__isnull=True)
    deviations = [
        each
        for each in Deviation.objects.live().filter(lots__lot__in=ancestors).distinct()
        if each.is_open
    ]
    return [
        CheckItem("nothing keeps it back", tuple((each.text, each) for each in kept_back)),
        CheckItem(
            "every critical and action limit conforms, or a signed decision says why it is sound",
            tuple((f"{each.limit.title}: {each.text}", each) for each in needs_a_look),
        ),
        CheckItem(
            "a reading shows each critical limit",
            tuple((f"no reading for: {limit.title}", limit) for limit in unshown),
        ),
        CheckItem("no deviation is open", tuple((str(each), each) for each in deviations)),
        CheckItem("nothing waits for a reviewer", tuple((each.text, each) for each in flags)),
        CheckItem(
            "its records were reviewed",
            tuple((f"readings of {each} that nobody has reviewed", each) for each in _unseen(lot)),
        ),
    ]


_STOPS_RELEASE = {Limit.Consequence.CRITICAL, Limit.Consequence.ACTION}


def found_sound(finding: Finding) -> bool:
    """Whether someone decided and signed, since it arose, that the lot is sound all the same."""
    return (
        Disposition.objects.live()
        .filter(
            lot=finding.lot.pk,
            kind=Disposition.Kind.RELEASE,
            hold__cause=finding.limit.cause,
            recorded_at__gte=finding.since.at,
        )
        .exists()
    )


def limits_without_reading(lot: Lot) -> list[Limit]:
    """Critical limits on a value of which nothing was read at their stage: nothing shows that
    they hold, though nothing shows that they do not."""
    taken = set(
        Checkpoint.objects.live().filter(lot=lot.pk).values_list("measurand", "stage").distinct()
    )
    read = {measurand for measurand, _ in taken}
    return [
        limit
        for limit in in_force(timezone.localtime(lot.happened_at).date())
        if limit.kind == LimitKind.VALUE
        and limit.consequence == Limit.Consequence.CRITICAL
        and limit.lot_kind in ("", lot.kind)
        and (
            (limit.measurand, limit.stage) not in taken
            if limit.stage
            else limit.measurand not in read
        )
    ]


def _unseen(lot: Lot) -> list[Lot]:
    """The lot and the batches in it that have readings nobody has reviewed."""
    behind = Lot.objects.filter(pk__in=ancestor_ids([lot.pk]), kind__in=_REVIEWED_KINDS)
    waiting = unreviewed(among=behind.values_list("pk", flat=True))
    return list(Lot.objects.filter(pk__in=waiting).order_by("pk")) if waiting else []


_REVIEWED_KINDS = (LotKind.BATCH, LotKind.BOTTLING)


def release(
    *,
    actor: User,
    lot: Lot,
    password: str,
    remark: str = "",
    reason: str = "",
) -> Release:
    """Sign that the bottles may be sold. Findings and limits are kept as they stood.

    Raises `Refused` where anything on the check-list is not so, for someone who does not
    review, or for a lot that is released already.
    """
    refuse_who_does_not_review(actor, "signs this")
    if lot.kind != LotKind.BOTTLING:
        raise Refused({"lot": f"{lot} is a {lot.get_kind_display()}. Bottles are released."})
    with recording(actor, reason):
        findings = assess_lot(lot).findings
        _refuse_unready(lot, findings)
        limits = in_force(timezone.localtime(lot.happened_at).date())
        signature = sign(
            actor=actor,
            password=password,
            meaning=Signature.Meaning.RELEASE,
            contents=contents_about(lot, limits),
            statement=remark,
        )
        found = Release(
            lot_id=lot.pk,
            remark=remark,
            findings=[
                {"limit": each.limit.title, "verdict": str(each.verdict), "text": each.text}
                for each in findings
            ],
            limits=[
                {
                    "ruleset": str(limit.ruleset),
                    "limit": limit.title,
                    "comparison": limit.comparison,
                    "citation": limit.citation,
                }
                for limit in limits
            ],
            signature=signature,
        )
        save_new(found)
        return found


def _refuse_unready(lot: Lot, findings: Sequence[Finding]) -> None:
    if standing_release(lot):
        raise Refused({"lot": f"{lot} is released already."})
    open_items = [item for item in release_checklist(lot, findings) if not item.is_met]
    if open_items:
        raise Refused(
            "Not yet: " + "; ".join(f"{item.text} ({item.detail})" for item in open_items)
        )


def take_back_release(*, actor: User, lot: Lot, password: str, reason: str) -> Release:
    """Undo a release by a new signature, with a reason. The release itself stays on record."""
    refuse_who_does_not_review(actor, "signs this")
    if not reason.strip():
        raise Refused({"reason": "Say why the release is taken back."})
    with recording(actor, reason):
        found = standing_release(lot)
        if found is None:
            raise Refused({"lot": f"{lot} is not released."})
        found.undone_by = sign(
            actor=actor,
            password=password,
            meaning=Signature.Meaning.UNDO,
            contents=contents_about(lot),
            statement=reason.strip(),
        )
        found.undone_reason = reason.strip()
        save_changed(found)
        return found


def changed_after_release(lot: Lot) -> list[Change]:
    """What was changed, struck out or added since the standing release was signed."""
    found = standing_release(lot)
    if found is None:
        return []
    limits = Limit.objects.filter(pk__in=_signed_limits(found))
    return changes_since(found.signature, contents_about(lot, limits))


def _signed_limits(found: Release) -> list[int]:
    return [
        int(key.removeprefix("limit:"))
        for key in json.loads(found.signature.contents)
        if key.startswith("limit:")
    ]
