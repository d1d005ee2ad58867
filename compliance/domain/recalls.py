"""Recall questions: asked, answered and signed against the clock, and what customers said."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from brewlog.domain.holds import refuse_who_does_not_review
from brewlog.domain.lots import refuse_future, save_changed, save_new
from brewlog.domain.refusals import refuse_void
from brewlog.models import Customer, Lot, User
from brewlog.recording import Refused, recording
from brewlog.trace import Recall, RecallCustomer, recall
from brewlog.units import Dimension
from brewlog.when import Precision, When
from compliance.domain.signing import as_signed, sign
from compliance.models import RecallResponse, RecallRun, Signature

_L = RecallRun.Level
# The least share of the customers to be checked on (21 CFR 7.42(b)(3), from memory).
LEAST_SHARE = {_L.A: 1.0, _L.B: 0.1, _L.C: 0.1, _L.D: 0.02, _L.E: 0.0}


# Asking and answering --------------------------------------------------------------------


def start_recall(
    *,
    actor: User,
    lot: Lot,
    kind: str,
    question: str,
    when: When,
    since: When | None = None,
    level: str = RecallRun.Level.A,
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
) -> RecallRun:
    """Ask who has what was made from a lot, as a drill or in earnest. The clock runs from `when`.

    Raises `Refused` for a voided lot, or a time that is not known to the minute.
    """
    refuse_void(lot)
    refuse_future(when)
    if when.precision != Precision.MINUTE:
        raise Refused({"when": "Write the time too: the clock runs from it."})
    with recording(actor, reason):
        run = RecallRun(
            lot_id=lot.pk,
            kind=kind,
            question=question.strip(),
            since_at=since.at if since else None,
            since_precision=since.precision.value if since else "",
            level=level,
            done_by=done_by or actor,
            note=note,
        )
        run.when = when
        save_new(run)
        return run


def sign_recall(
    *,
    actor: User,
    run: RecallRun,
    learnt: str,
    password: str,
    counted: int | None = None,
    reason: str = "",
) -> RecallRun:
    """Sign the answer as the records give it now, and stop the clock.

    `counted` is what was counted in store of the bottles of its scope. Raises `Refused` for
    someone who does not review, and for what is signed already.
    """
    refuse_who_does_not_review(actor, "signs this")
    if not learnt.strip():
        raise Refused({"learnt": "Write what was learnt, also where all went well."})
    with recording(actor, reason):
        run.reread()
        if run.signature_id is not None:
            raise Refused({"run": f"It is signed already: {run.signature}."})
        run.counted = counted
        run.learnt = learnt.strip()
        run.result = _result(recall(run.lot, since=run.since), counted)
        run.signature = sign(
            actor=actor,
            password=password,
            meaning=Signature.Meaning.RECALL,
            contents={f"{run._meta.model_name}:{run.pk}": _contents(run)},
            statement=str(run),
        )
        save_changed(run)
        return run


def _contents(run: RecallRun) -> dict[str, str]:
    said = as_signed(run)
    # The signature itself is written into the record afterwards.
    del said["signature_id"]
    return said


@dataclass(frozen=True)
class Figures:
    """An answer in pieces: what was made of the scope, and where it is."""

    lots: int
    made: int
    shipped: int
    returned: int
    gone: int
    used: int
    on_hand: int
    counted: int | None
    unexplained: int
    drawn_before: int
    customers: int

    @property
    def accounted(self) -> int:
        """What is known to be somewhere: out, gone, used, or there to be counted."""
        there = self.on_hand if self.counted is None else self.counted
        return self.shipped - self.returned + self.gone + self.used + there

    @property
    def share(self) -> float | None:
        """The part of what was made that is accounted for; None where nothing was made."""
        return self.accounted / self.made if self.made else None

    @property
    def surplus(self) -> int:
        """How much more is accounted for than was made: something is written or counted wrong."""
        return max(0, self.accounted - self.made)


def figures_of(found: Recall, counted: int | None = None) -> Figures:
    """The figures of an answer, with what was counted in store."""
    totals = found.totals
    return Figures(
        lots=totals.lots,
        made=totals.made,
        shipped=totals.shipped,
        returned=totals.returned,
        gone=sum(totals.gone.values()),
        used=sum(lot.used for lot in found.bottling_lots),
        on_hand=totals.on_hand,
        counted=counted,
        unexplained=totals.unexplained,
        drawn_before=totals.lots_drawn_before,
        customers=len(found.customers),
    )


def _result(found: Recall, counted: int | None) -> dict[str, Any]:
    """The answer as it is kept: its figures, lots and customers."""
    return {
        "figures": vars(figures_of(found, counted)),
        "lots": [
            {"code": lot.code, "made": lot.made, "drawn_before": lot.drawn_before}
            for lot in found.bottling_lots
        ],
        "customers": [
            {"name": each.name, "sent": pieces_sent(each), "returned": pieces_back(each)}
            for each in found.customers
        ],
    }


def signed_figures(run: RecallRun) -> Figures | None:
    """The figures as they were signed; None until then."""
    return Figures(**run.result["figures"]) if run.result else None


def minutes_taken(run: RecallRun) -> int | None:
    """From the question to the signature; None until it is signed."""
    return minutes_between(run, run.signature.signed_at) if run.signature else None


def minutes_between(run: RecallRun, then: dt.datetime) -> int:
    """From the question to a moment after it, begun minutes counted."""
    return math.ceil((then - run.happened_at).total_seconds() / 60)


def pieces_sent(customer: RecallCustomer) -> int:
    return sum(line.quantity for line in customer.lines if line.dimension == Dimension.COUNT)


def pieces_back(customer: RecallCustomer) -> int:
    """What they brought back by the books, of what is counted by the piece."""
    return sum(lot.returned for lot in customer.lots if lot.dimension == Dimension.COUNT)


# What customers said ---------------------------------------------------------------------


def record_response(
    *,
    actor: User,
    run: RecallRun,
    customer: Customer,
    how: str,
    when: When,
    is_reached: bool = True,
    spoke_with: str = "",
    found: int | None = None,
    destroyed: int = 0,
    returned: int = 0,
    sold_on: int = 0,
    told_on: str = "",
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
) -> RecallResponse:
    """Write down a try to reach a customer, and what they said they have.

    Figures are of all they had so far; the last entry counts. What is brought back is taken
    into stock besides. Raises `Refused` before the question was asked, and for figures that
    contradict one another.
    """
    refuse_future(when)
    if when.provably_before(run.when):
        raise Refused({"when": f"The question was asked {run.when}, later than {when}."})
    if not is_reached and (found is not None or destroyed or returned or sold_on):
        raise Refused({"found": "Who was not reached has not said what they have."})
    if found is None and (destroyed or returned or sold_on):
        raise Refused({"found": "Write how many they still had, 0 for none."})
    if destroyed + returned > (found or 0):
        raise Refused(
            {"found": f"Destroyed and sent back are {destroyed + returned}, more than they had."}
        )
    with recording(actor, reason):
        response = RecallResponse(
            run=run,
            customer=customer,
            how=how,
            is_reached=is_reached,
            spoke_with=spoke_with,
            found=found,
            destroyed=destroyed,
            returned=returned,
            sold_on=sold_on,
            told_on=told_on,
            done_by=done_by or actor,
            note=note,
        )
        response.when = when
        save_new(response)
        return response


@dataclass(frozen=True)
class Answer:
    """One customer of a recall: what they had by the books, and their last word."""

    customer_id: int
    name: str
    sent: int
    back: int
    tries: tuple[RecallResponse, ...] = ()

    @property
    def reached(self) -> RecallResponse | None:
        """The try by which they first knew of it."""
        return next((each for each in self.tries if each.is_reached), None)

    @property
    def said(self) -> RecallResponse | None:
        """The last time they said what they have."""
        return next((each for each in reversed(self.tries) if each.found is not None), None)

    @property
    def open(self) -> int:
        """Bottles they had of which nobody knows yet; less than nothing where they name more."""
        if self.said is None:
            return self.sent - self.back
        earlier = max(self.back - self.said.returned, 0)
        return self.sent - earlier - (self.said.found or 0) - self.said.sold_on


def answers_of(run: RecallRun, customers: Iterable[RecallCustomer]) -> list[Answer]:
    """Every customer of the scope and everyone else who was asked, by name. One query."""
    tries: dict[int, list[RecallResponse]] = {}
    names: dict[int, str] = {}
    responses = run.responses.live().select_related("customer", "done_by")  # type: ignore[attr-defined]
    for each in responses.order_by("happened_at", "id"):
        tries.setdefault(each.customer_id, []).append(each)
        names[each.customer_id] = each.customer.name
    found = [
        Answer(
            each.customer_id,
            each.name,
            pieces_sent(each),
            pieces_back(each),
            tuple(tries.pop(each.customer_id, ())),
        )
        for each in customers
    ]
    found += [Answer(pk, names[pk], 0, 0, tuple(asked)) for pk, asked in tries.items()]
    return sorted(found, key=lambda answer: (answer.name.casefold(), answer.customer_id))


@dataclass(frozen=True)
class Effect:
    """How well a recall worked (what 21 CFR 7.53(b) asks to be reported, read)."""

    level: str
    answers: list[Answer] = field(default_factory=list)

    @property
    def customers(self) -> int:
        return len(self.answers)

    @property
    def reached(self) -> int:
        return sum(each.reached is not None for each in self.answers)

    @property
    def answered(self) -> int:
        return sum(each.said is not None for each in self.answers)

    @property
    def needed(self) -> int:
        """How many customers have to have answered, by the level chosen."""
        return math.ceil(LEAST_SHARE[RecallRun.Level(self.level)] * self.customers)

    @property
    def sent(self) -> int:
        return sum(each.sent for each in self.answers)

    def total(self, name: str) -> int:
        """The sum of one of the figures that customers gave."""
        return sum(getattr(each.said, name) for each in self.answers if each.said)

    @property
    def recovered(self) -> float | None:
        """The part of what was sent that was destroyed or sent back (common practice)."""
        if not self.sent:
            return None
        return (self.total("destroyed") + self.total("returned")) / self.sent

    @property
    def open(self) -> int:
        return sum(max(each.open, 0) for each in self.answers)
