"""Closing a recall in earnest, and opening it again.

A recall ends when all reasonable efforts to bring the product back were made and it may be taken
that what came back was dealt with; where the authority takes part it says so in writing (21 CFR
7.55(a), read), on the last status report and what became of the product (7.55(b), from memory).
A drill ends with its signed answer.
"""

from __future__ import annotations

from django.db.models import OuterRef, Q, QuerySet, Subquery

from brewlog.domain.holds import refuse_who_does_not_review
from brewlog.domain.lots import refuse_future, save_new
from brewlog.models import User
from brewlog.recording import Refused, recording
from brewlog.trace import recall
from brewlog.when import When
from compliance.domain.recalls import Effect, answers_of
from compliance.domain.signing import as_signed, sign
from compliance.models import RecallClosing, RecallRun, Signature

_CLOSED, _REOPENED = RecallClosing.Act.CLOSED, RecallClosing.Act.REOPENED


def effect_of(run: RecallRun) -> Effect:
    """How well the recall works, as the records say it now."""
    return Effect(run.level, answers_of(run, recall(run.lot, since=run.since).customers))


def newest_act(run: RecallRun) -> RecallClosing | None:
    """By which it is closed or was opened again; None where neither ever was."""
    acts = run.closings.live().select_related("signature", "done_by")  # type: ignore[attr-defined]
    return acts.order_by("-id").first()


def is_closed(run: RecallRun) -> bool:
    """Whether it was closed, and not opened again since."""
    act = newest_act(run)
    return act is not None and act.act == _CLOSED


def not_ended(runs: QuerySet[RecallRun]) -> QuerySet[RecallRun]:
    """Of some questions those that go on: not signed yet, or in earnest and not closed."""
    newest = RecallClosing.objects.live().filter(run=OuterRef("pk")).order_by("-id")
    acted = runs.select_related("lot").annotate(act=Subquery(newest.values("act")[:1]))
    in_earnest = ~Q(kind=RecallRun.Kind.DRILL) & (Q(act=None) | Q(act=_REOPENED))
    return acted.filter(Q(signature__isnull=True) | in_earnest)


def close_recall(
    *,
    actor: User,
    run: RecallRun,
    why: str,
    bottles: str,
    when: When,
    password: str,
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
) -> RecallClosing:
    """Close a recall: why no more can be done, and what became of the bottles; signed.

    How well it worked is kept as it stands, and signed with it. Raises `Refused` for a drill,
    for what nobody has signed yet, and for what is closed already.
    """
    refuse_who_does_not_review(actor, "closes a recall")
    with recording(actor, reason):
        run.reread()
        if run.is_void:
            raise Refused({"run": f"It was struck out: {run.void_reason}."})
        if run.is_drill:
            raise Refused({"run": "A drill ends with its signed answer."})
        if run.signature_id is None:
            raise Refused({"run": "Sign who has it first: the closing stands on that answer."})
        if is_closed(run):
            raise Refused({"run": "It is closed already."})
        result = figures(effect_of(run))
        closing = RecallClosing(
            run=run, act=_CLOSED, why=why.strip(), bottles=bottles.strip(), result=result, note=note
        )
        return _sign_and_save(closing, actor, done_by, when, password)


def reopen_recall(
    *,
    actor: User,
    run: RecallRun,
    why: str,
    when: When,
    password: str,
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
) -> RecallClosing:
    """Open a closed recall again; the closing stays as it was signed.

    Raises `Refused` for what is not closed.
    """
    refuse_who_does_not_review(actor, "opens a recall again")
    with recording(actor, reason):
        run.reread()
        if not is_closed(run):
            raise Refused({"run": "It is not closed."})
        reopening = RecallClosing(run=run, act=_REOPENED, why=why.strip(), note=note)
        return _sign_and_save(reopening, actor, done_by, when, password)


def _sign_and_save(
    closing: RecallClosing, actor: User, done_by: User | None, when: When, password: str
) -> RecallClosing:
    """Refuses an act from before the last one; inside `recording()`."""
    run = closing.run
    refuse_future(when)
    last = newest_act(run)
    earliest = last.when if last else run.when
    if when.provably_before(earliest):
        raise Refused({"when": f"That is before {earliest}, the last time it was acted on."})
    closing.done_by = done_by or actor
    closing.when = when
    contents = as_signed(closing)
    # The record has neither a number nor its signature yet.
    del contents["id"], contents["signature_id"]
    closing.signature = sign(
        actor=actor,
        password=password,
        meaning=Signature.Meaning.CLOSING,
        contents={f"{run._meta.model_name}:{run.pk}:{closing.act}": contents},
        statement=f"{run}: {closing.get_act_display()}",
    )
    save_new(closing)
    return closing


def figures(effect: Effect) -> dict[str, int | str]:
    """How well it worked, in customers and bottles, as it is kept with the closing."""
    return {
        "level": effect.level,
        "customers": effect.customers,
        "reached": effect.reached,
        "answered": effect.answered,
        "needed": effect.needed,
        "sent": effect.sent,
        "found": effect.total("found"),
        "destroyed": effect.total("destroyed"),
        "returned": effect.total("returned"),
        "sold_on": effect.total("sold_on"),
        "open": effect.open,
    }
