"""Recall questions and drills: the list, one against the clock, and its drafts of notices."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.db.models import (
    Count,
    DurationField,
    ExpressionWrapper,
    F,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
)
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.views.decorators.http import require_safe

from brewlog.entries.base import RECORD
from brewlog.middleware import BreweryRequest
from brewlog.models import Lot
from brewlog.recording import reading
from brewlog.trace import recall
from brewlog.views import events
from brewlog.views.access import READ, needs
from brewlog.views.details import Link
from brewlog.views.links import kind_and_key, lot_url
from brewlog.views.lists import Column, Filter, Linked, Listing, Word, choice, get
from brewlog.views.nouns.parts import SINCE, VOIDED, WORK, choice_filter
from brewlog.views.reader import Reader, reader_of
from brewlog.views.traces import earlier_words
from compliance.domain.recall_closing import not_ended
from compliance.domain.recalls import (
    Answer,
    Effect,
    Figures,
    answers_of,
    figures_of,
    minutes_between,
    minutes_taken,
    signed_figures,
)
from compliance.models import RecallClosing, RecallRun
from compliance.views.computed import headings, shown
from compliance.views.recall_papers import packet_links

# How many earlier ones a drill is held against.
MOST_EARLIER = 5


GOES_ON = "signed, goes on"


def kind_word(run: RecallRun) -> Word:
    if run.is_drill:
        return Word("DRILL", "look")
    return Word(f"NOT A DRILL: {run.get_kind_display()}", "stop")


def standing_word(run: RecallRun) -> Word:
    if run.is_void:
        return Word("voided")
    if not run.signature_id:
        return Word("the clock runs", "look")
    if run.is_drill:
        return Word("signed", "good")
    return (
        Word("closed", "good") if _act(run) == RecallClosing.Act.CLOSED else Word(GOES_ON, "look")
    )


def percent(share: float | None) -> str:
    """A share in per cents; with a decimal where it is nearly all, as there it counts."""
    if share is None:
        return ""
    return f"{share:.1%}" if 0.95 < share < 1.05 and share != 1 else f"{share:.0%}"


def _accounted(run: RecallRun) -> str:
    figures = signed_figures(run)
    return percent(figures.share) if figures else ""


def _acted() -> QuerySet:
    """With `act`, the newest closing or opening again of each."""
    newest = RecallClosing.objects.live().filter(run=OuterRef("pk")).order_by("-id")
    return RecallRun.objects.annotate(act=Subquery(newest.values("act")[:1]))


def _act(run: Any) -> str | None:
    return run.act


def _narrowed(rows: QuerySet, value: str) -> QuerySet:
    if value == "on":
        return not_ended(rows.filter(voided_at__isnull=True))
    if value == "closed":
        return rows.filter(act=RecallClosing.Act.CLOSED)
    return rows.filter(signature__isnull=value == "yes")


def _rows() -> QuerySet:
    answered = Q(responses__voided_at__isnull=True, responses__found__isnull=False)
    return (
        _acted()
        .select_related("lot", "done_by", "signature")
        .annotate(
            took=ExpressionWrapper(
                F("signature__signed_at") - F("happened_at"), output_field=DurationField()
            ),
            answered=Count("responses__customer", filter=answered, distinct=True),
        )
    )


COLUMNS = (
    Column("when", "Asked", lambda run: Linked(run.when, run), "happened_at"),
    Column("kind", "What", kind_word, "kind"),
    Column("lot", "Lot", lambda run: Linked(run.lot.code, run.lot), "lot__code"),
    Column("state", "Standing", standing_word),
    Column("minutes", "Minutes", minutes_taken, "took", number=True),
    Column("accounted", "Accounted for", _accounted, number=True),
    Column(
        "customers",
        "Customers",
        lambda run: run.result["figures"]["customers"] if run.result else None,
        number=True,
    ),
    Column("answered", "Answered", get("answered"), "answered", number=True),
    Column("learnt", "What was learnt", get("learnt")),
    events.BY,
)
RECALLS = Listing(
    noun="recall",
    path="recalls",
    title="Recalls and drills",
    group=WORK,
    queryset=_rows,
    columns=COLUMNS,
    search=("lot__code", "question", "learnt", "note"),
    sought=("question",),
    filters=(
        choice_filter("kind", "What", RecallRun.Kind.choices),
        Filter(
            "open",
            "Standing",
            lambda: [
                ("on", "goes on"),
                ("yes", "the clock runs"),
                ("no", "signed"),
                ("closed", "closed"),
            ],
            _narrowed,
        ),
        SINCE,
        VOIDED,
    ),
    order="-happened_at",
    start="start-recall",
    empty="A drill now and then shows how long it takes to say who has what, and what is missing "
    "for it.",
)

ANSWER_COLUMNS = (
    Column("customer", "Customer", lambda row: _ToCustomer(row.name, row)),
    Column("sent", "Had", get("sent"), number=True),
    Column("back", "Back", get("back"), number=True),
    Column("state", "Standing", lambda row: _reached_word(row)),
    Column("reached", "Reached", lambda row: row.reached.when if row.reached else None),
    Column("found", "Still had", lambda row: _said(row, "found"), number=True),
    Column("destroyed", "Destroyed", lambda row: _said(row, "destroyed"), number=True),
    Column("returned", "Sent back", lambda row: _said(row, "returned"), number=True),
    Column("sold_on", "Sold on", lambda row: _said(row, "sold_on"), number=True),
    Column("unknown", "Open", get("open"), number=True),
)
RESPONSE_COLUMNS = (
    Column("when", "When", get("when")),
    Column("customer", "Customer", get("customer")),
    Column("how", "How", choice("how")),
    Column("state", "Reached", lambda row: _try_word(row)),
    Column("spoke_with", "Who answered", get("spoke_with")),
    Column("told_on", "Told in turn", get("told_on")),
    events.BY,
    events.NOTE,
    Column("entry", "Entry", lambda row: _ToEntry("open", row)),
)


def _closing_effect(closing: RecallClosing) -> str:
    """How well it worked, as it was signed."""
    kept = closing.result
    if kept is None:
        return ""
    return (
        f"reached {kept['reached']} of {kept['customers']}, answered {kept['answered']} "
        f"({kept['needed']} needed); of {kept['sent']} sent, destroyed {kept['destroyed']}, sent "
        f"back {kept['returned']}, sold on {kept['sold_on']}, open {kept['open']}"
    )


CLOSING_COLUMNS = (
    Column("when", "When", get("when")),
    Column("act", "What", lambda each: _ToEntry(each.get_act_display(), each)),
    Column("why", "Why", get("why")),
    Column("bottles", "What became of the bottles", get("bottles")),
    Column("effect", "How well it worked, as signed", _closing_effect),
    Column("signature", "Signed", lambda each: _ToSignature(each.signature.printed_name, each)),
)


class _ToSignature(Linked):
    """What was signed, word for word."""

    @property
    def url(self) -> str:
        return reverse("signature", args=[self.record.signature_id])


class _ToCustomer(Linked):
    """A name that leads to the customer's page."""

    @property
    def url(self) -> str:
        return reverse("customer-detail", args=[self.record.customer_id])


class _ToEntry(Linked):
    """The way to an answer by itself, where it is mended or struck out."""

    @property
    def url(self) -> str:
        return reverse("record-detail", args=kind_and_key(self.record))


class _ToLot(Linked):
    """A code that leads to its lot."""

    @property
    def url(self) -> str:
        return lot_url(self.record.code)


@dataclass(frozen=True)
class _ToResponse(Linked):
    """The form of what a customer said, filled in for the record's run and customer."""

    run: RecallRun

    @property
    def url(self) -> str:
        query = urlencode({"run": self.run.pk, "customer": self.record.name})
        return f"{reverse('entry', args=['recall-response'])}?{query}"


def _said(row: Answer, name: str) -> int | None:
    return getattr(row.said, name) if row.said else None


def _reached_word(row: Answer) -> Word:
    if row.said:
        return Word("answered", "good")
    if row.reached:
        return Word("reached", "look")
    return Word("no answer yet", "stop") if row.tries else Word("not tried yet", "stop")


def _try_word(response: Any) -> Word:
    return Word("reached", "good") if response.is_reached else Word("no answer", "look")


def recall_url(run: RecallRun) -> str:
    return reverse("recall-detail", args=[run.pk])


def _run(pk: int) -> RecallRun:
    rows = _acted().select_related("lot", "done_by", "recorded_by", "voided_by", "signature")
    return get_object_or_404(rows, pk=pk)


def _lot_columns(reader: Reader) -> tuple[Column, ...]:
    """Of bottling lots in the scope, with what was drawn before marked in the reader's words."""
    return (
        Column("lot", "Lot", lambda lot: _ToLot(lot.code, lot)),
        Column("product", "Product", lambda lot: f"{lot.flavour}, {lot.format}"),
        Column("made", "Filled", get("made"), number=True),
        Column("shipped", "Shipped", get("shipped"), number=True),
        Column("returned", "Brought back", get("returned"), number=True),
        Column("gone", "Gone", lambda lot: sum(lot.gone.values()), number=True),
        Column("on_hand", "On hand", get("on_hand"), number=True),
        Column("before", "Drawn before", lambda lot: earlier_words(lot.scope, reader)),
    )


def _answer_columns(request: BreweryRequest, run: RecallRun) -> tuple[Column, ...]:
    """For those who record, with the way to write down what a customer said."""
    if run.is_void or not request.user.has_perm(RECORD):
        return ANSWER_COLUMNS
    write = Column("write", "Write", lambda row: _ToResponse("answer", row, run))
    return (*ANSWER_COLUMNS, write)


@require_safe
@needs(READ)
def recall_detail(request: BreweryRequest, pk: int) -> HttpResponse:
    """The question, its answer as the records give it now and as it was signed, the replies."""
    with reading():
        run = _run(pk)
        found = recall(run.lot, since=run.since)
        effect = Effect(run.level, answers_of(run, found.customers))
        lot_columns, answer_columns = (
            _lot_columns(reader_of(request)),
            _answer_columns(request, run),
        )
        responses = run.responses.select_related("customer", "done_by")  # type: ignore[attr-defined]
        closings = run.closings.select_related("signature", "done_by")  # type: ignore[attr-defined]
        context = {
            "here": "limits",
            "tab": "recalls",
            "run": run,
            "record_key": kind_and_key(run),
            "words": [kind_word(run), standing_word(run)],
            "effect": effect,
            "is_closed": _act(run) == RecallClosing.Act.CLOSED,
            "closing_columns": headings(CLOSING_COLUMNS),
            "closings": shown(request, CLOSING_COLUMNS, closings),
            "shares": _shares(effect),
            "answer_columns": headings(answer_columns),
            "answers": shown(request, answer_columns, effect.answers),
            "lot_columns": headings(lot_columns),
            "lots": shown(request, lot_columns, found.bottling_lots),
            "other_stock": len(found.other_stock),
            "response_columns": headings(RESPONSE_COLUMNS),
            "responses": shown(request, RESPONSE_COLUMNS, responses),
            "scope_url": _scope_url(run),
            "papers": packet_links(run.lot, run=run.pk),
            "earlier_columns": headings(COLUMNS),
            "earlier": shown(request, COLUMNS, _earlier(run)),
            **_figures(run, figures_of(found, run.counted)),
        }
    return render(request, "compliance/recall.html", context)


def _figures(run: RecallRun, now: Figures) -> dict[str, Any]:
    """The figures as signed, or as they are; and those of now where they have changed since."""
    signed = signed_figures(run)
    figures = signed or now
    return {
        "figures": figures,
        "accounted": percent(figures.share),
        "minutes": minutes_taken(run),
        "so_far": minutes_between(run, timezone.now()),
        "now": now if signed is not None and now != signed else None,
    }


def _shares(effect: Effect) -> dict[str, str]:
    customers = effect.customers
    return {
        "reached": percent(effect.reached / customers) if customers else "",
        "answered": percent(effect.answered / customers) if customers else "",
        "recovered": percent(effect.recovered),
    }


def _scope_url(run: RecallRun) -> str:
    """Who has it, with the time from which the lot is suspect."""
    if run.since is None:
        return lot_url(run.lot.code, "lot-recall")
    return lot_url(run.lot.code, "lot-recall", since=str(run.since))


def _earlier(run: RecallRun) -> QuerySet:
    """The questions signed before this one was asked, the newest first."""
    before = _rows().filter(voided_at__isnull=True, signature__isnull=False, pk__lt=run.pk)
    return before.order_by("-pk")[:MOST_EARLIER]


def start_link(request: BreweryRequest, lot: Lot) -> Link | None:
    """From "who has it" to the question asked against the clock."""
    if lot.is_void or not request.user.has_perm(RECORD):
        return None
    query = {"lot": lot.code} | (
        {"since": request.GET["since"]} if request.GET.get("since") else {}
    )
    return Link(
        "Start a drill, or the real thing",
        f"{reverse('entry', args=['start-recall'])}?{urlencode(query)}",
    )
