"""A round: every open vessel on one form, each saved as it is read; very many on several pages.

Nothing about a round is stored: what was read since it began is done, by whomever. So half a
round is gone on with by someone else, on another phone, by opening the same page.

Keyed in from paper (`?paper=1`) it asks when and by whom it was read, and what was written down
since it began is done, whenever it was read.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.core.exceptions import ValidationError
from django.core.paginator import Page, Paginator
from django.db.models import OuterRef, QuerySet, Subquery
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache

from brewlog.domain.vessels import open_batches, open_cultures
from brewlog.entries import BY_SLUG
from brewlog.entries.base import RECORD
from brewlog.forms.checkpoints import ReadingForm
from brewlog.middleware import BreweryRequest
from brewlog.models import Checkpoint, Location, Lot, Measurand
from brewlog.views.access import needs
from brewlog.views.before_reading import reading_panel
from brewlog.views.entry_page import EntryPage, Problem
from brewlog.views.judged import ReadingVerdict, held_to, limits_beside, verdicts_on
from brewlog.views.lists import PAGE_SIZE, Word, page_links, without
from brewlog.views.meters import remember_instrument, usual_instrument
from brewlog.views.names import natural
from brewlog.views.once import Done, record_once
from brewlog.views.standing import kept_back
from brewlog.views.submissions import TOKEN_FIELD, new_token, sending_of

# What is read vessel by vessel.
MEASURANDS = (
    Measurand.PH,
    Measurand.TEMPERATURE,
    Measurand.SPECIFIC_GRAVITY,
    Measurand.BRIX,
    Measurand.TOTAL_ACIDITY,
)
# How far back what was read belongs to this round.
SINCE = (("today", "today"), ("4", "the last 4 hours"), ("12", "the last 12 hours"))
# What holds for all rows, and its name in the address, where it stays for this round only.
HELD = {"sample_temperature": "sample"}
HELD_OF_PAPER = {"when": "read", "done_by": "by", "reason": "why"}


@dataclass(frozen=True)
class Asked:
    """Which round: what is measured, where, and since when a reading belongs to it.

    `from_paper`: it was written on paper and is keyed in now.
    """

    measurand: str
    place: str
    since_name: str
    since: dt.datetime
    from_paper: bool = False

    @property
    def measured(self) -> str:
        return Measurand(self.measurand).label.split(",")[0]

    @property
    def takes_temperature(self) -> bool:
        """Whether the temperature of the sample bears on what is read."""
        return self.measurand != Measurand.TEMPERATURE

    @property
    def held(self) -> dict[str, str]:
        """Fields that hold for all rows, with their names in the address."""
        return HELD | (HELD_OF_PAPER if self.from_paper else {})

    @property
    def clock(self) -> str:
        """The field that says whether a reading belongs to it."""
        return "recorded_at" if self.from_paper else "happened_at"


@dataclass(frozen=True)
class Vessels:
    """One page of the open vessels, in the order of their names."""

    page: Page
    rows: list[RoundRow]

    @property
    def missing(self) -> list[str]:
        """Those nothing was read of yet, by name."""
        return [row.name for row in self.rows if not row.done]


@dataclass
class RoundRow:
    """One vessel: what is in it, what was read of it in this round, and what is being typed."""

    lot: Any
    limits: list[str]
    done: list[ReadingVerdict]
    standing: Word | None
    typed: str = ""
    token: str = field(default_factory=new_token)
    problems: list[str] = field(default_factory=list)

    @property
    def prefix(self) -> str:
        return _prefix(self.lot.pk)

    @property
    def name(self) -> str:
        """The vessel's, as it is written on it; the lot's code where no vessel is known."""
        return str(self.lot.vessel or self.lot.code)

    @property
    def tone(self) -> str:
        return self.done[-1].tone if self.done else ""

    @property
    def is_asked(self) -> bool:
        """Whether a number is still wanted: none yet, or the last one asks for another."""
        return self.tone not in ("good", "plain") or bool(self.typed or self.problems)


def _prefix(key: int) -> str:
    return f"row-{key}-"


@never_cache
@needs(RECORD)
def reading_round(request: BreweryRequest) -> HttpResponse:
    """The open vessels, and what was read of them; one row or all that are filled in are saved."""
    asked = _asked(request.GET)
    if request.method != "POST":
        return _show(request, asked, _vessels(request, asked))
    wanted = request.POST.get("save", "")
    told: dict[int, tuple[str, list[str]]] = {}
    last: Checkpoint | None = None
    sent = _keys(request.POST, wanted)
    for key in sent:
        saved, token, problems = _save(request, asked, key)
        last = saved or last
        if problems:
            told[key] = token, problems
    found = _vessels(request, asked)
    for row in found.rows:
        _put_back(request.POST, row, told, row.lot.pk in sent)
    response = _answer(request, asked, found, wanted)
    if last is not None:
        remember_instrument(response, last)
    return response


def _answer(request: BreweryRequest, asked: Asked, found: Vessels, wanted: str) -> HttpResponse:
    """The one row where scripts asked for it; else the page, kept open while something is typed."""
    only = [row for row in found.rows if str(row.lot.pk) == wanted]
    if request.headers.get("HX-Request") and only:
        context = {"row": only[0], "asked": asked, "vessels": found, "is_part": True}
        return render(request, "brewlog/_round_row.html", context)
    if wanted and not any(row.typed for row in found.rows):
        return redirect(_again(request, asked, f"{only[0].prefix}box" if only else ""))
    return _show(request, asked, found)


def _again(request: BreweryRequest, asked: Asked, place: str) -> str:
    """The same page of the round, at a row. What holds for all rows goes along in the address,
    so that it holds for this round and not for the next."""
    typed = {name: request.POST.get(field, "").strip() for field, name in asked.held.items()}
    changes = {name: text for name, text in typed.items() if text}
    query = without(request, *typed, **changes)
    return request.path + (f"?{query}" if query else "") + (f"#{place}" if place else "")


def _show(request: BreweryRequest, asked: Asked, found: Vessels) -> HttpResponse:
    form = _common_form(request, asked)
    context = {
        "here": "record",
        "asked": asked,
        "vessels": found,
        "page": found.page,
        "pages": page_links(request, found.page),
        "form": form,
        "panel": reading_panel(request, form).data,
        "why": held_to("reading", {"measurand": asked.measurand}, [row.lot for row in found.rows]),
        "measurands": [(each.value, each.label) for each in MEASURANDS],
        "places": Location.objects.live().filter(in_use=True, vessels__isnull=False).distinct(),
        "since": SINCE,
    }
    return render(request, "brewlog/round.html", context)


# Asking -----------------------------------------------------------------------------------


def _asked(query: QueryDict) -> Asked:
    measurand = query.get("measurand", "")
    since = query.get("since", "")
    if since.isdecimal() and since in dict(SINCE):
        begun = timezone.now() - dt.timedelta(hours=int(since))
    else:
        since = "today"
        begun = timezone.localtime().replace(hour=0, minute=0, second=0, microsecond=0)
    place = query.get("place", "")
    return Asked(
        measurand if measurand in MEASURANDS else Measurand.PH.value,
        place if place.isascii() and place.isdecimal() else "",
        since,
        begun,
        query.get("paper") == "1",
    )


def _vessels(request: BreweryRequest, asked: Asked) -> Vessels:
    """One page of the open vessels, in a fixed number of queries."""
    named = [*_names(_batches(asked)), *_names(_cultures(asked))]
    keys = [key for _, key in sorted((natural(name or code), key) for key, name, code in named)]
    page = Paginator(keys, PAGE_SIZE).get_page(request.GET.get("page"))
    shown = list(page)
    lots = {
        lot.pk: lot
        for lot in (
            *_with_last(_batches(asked), asked, shown, "recipe__recipe"),
            *_with_last(_cultures(asked), asked, shown, "line"),
        )
    }
    return Vessels(page, _rows([lots[key] for key in shown if key in lots], asked))


def _names(lots: QuerySet) -> Iterable[tuple[int, str | None, str]]:
    return lots.order_by().values_list("pk", "vessel__name", "code")


def _rows(lots: list[Any], asked: Asked) -> list[RoundRow]:
    limits = limits_beside(lots, asked.measurand)
    read = _read(lots, asked)
    back = kept_back()
    return [RoundRow(lot, limits[lot.pk], read.get(lot.pk, []), back.word(lot)) for lot in lots]


def _batches(asked: Asked) -> QuerySet:
    return _there(open_batches().filter(pitched_at__isnull=False), asked)


def _cultures(asked: Asked) -> QuerySet:
    return _there(open_cultures(), asked)


def _there(lots: QuerySet, asked: Asked) -> QuerySet:
    return lots.filter(vessel__location=asked.place) if asked.place else lots


def _with_last(lots: QuerySet, asked: Asked, shown: list[int], what: str) -> QuerySet:
    """Those of the page, with what was read of them before the round."""
    before = Checkpoint.objects.live().filter(
        lot=OuterRef("pk"), measurand=asked.measurand, **{f"{asked.clock}__lt": asked.since}
    )
    newest = before.order_by("-happened_at", "-id")
    return (
        lots.filter(pk__in=shown)
        .select_related("vessel", what)
        .annotate(
            last_text=Subquery(newest.values("value_text")[:1]),
            last_at=Subquery(newest.values("happened_at")[:1]),
        )
    )


def _read(lots: Sequence[Lot], asked: Asked) -> dict[int, list[ReadingVerdict]]:
    """What was read of each lot in this round, with what it says, the newest last."""
    readings = Checkpoint.objects.live().filter(
        lot__in=[lot.pk for lot in lots],
        measurand=asked.measurand,
        **{f"{asked.clock}__gte": asked.since},
    )
    linked = readings.select_related("lot", "instrument", "done_by").order_by("happened_at", "id")
    found: dict[int, list[ReadingVerdict]] = {}
    for verdict in verdicts_on(linked).values():
        found.setdefault(verdict.reading.lot_id or 0, []).append(verdict)
    return found


# Saving -----------------------------------------------------------------------------------


def _keys(sent: QueryDict, wanted: str) -> list[int]:
    """The lots to be saved: the one whose button was pressed, or all that are filled in."""
    if wanted.isascii() and wanted.isdecimal():
        return [int(wanted)]
    names = [re.fullmatch(r"row-(\d{1,18})-value", name) for name in sent] if wanted else []
    return [int(name[1]) for name in names if name and sent.get(name[0], "").strip()]


def _save(
    request: BreweryRequest, asked: Asked, key: int
) -> tuple[Checkpoint | None, str, list[str]]:
    """Record one row by the reading's own entry. What was recorded, or the token to send it
    again with and what is wrong."""
    sending = sending_of(request, _prefix(key))
    page = _page_of(request, asked, key)
    if not page.is_valid():
        return None, sending.token, [_told(problem) for problem in page.problems]
    try:
        done = record_once(request, page, sending)
    except ValidationError as error:
        return None, sending.token, error.messages
    if isinstance(done, Done):
        return done.records[0], "", []
    if done.digest == sending.digest:
        return None, "", []
    return None, new_token(), [_SENT_BEFORE]


def _told(problem: Problem) -> str:
    """What is wrong, beside the number; what holds for all rows is named, as it stands above."""
    return (
        problem.text if problem.target in ("", "id_value") else f"{problem.label}: {problem.text}"
    )


_SENT_BEFORE = (
    "This row was saved before with another number, which stands above. If this is a second "
    "reading, press Save again."
)


def _page_of(request: BreweryRequest, asked: Asked, key: int) -> EntryPage:
    lot = Lot.objects.live().filter(pk=key).first()
    typed = {
        "lot": lot.code if lot else "",
        "measurand": asked.measurand,
        "value": request.POST.get(f"{_prefix(key)}value", ""),
        "instrument": request.POST.get("instrument", ""),
        "when": "now",
    }
    if asked.takes_temperature:
        typed["sample_temperature"] = request.POST.get("sample_temperature", "")
    if asked.from_paper:
        typed |= {name: request.POST.get(name, "") for name in HELD_OF_PAPER}
    form = ReadingForm(typed, actor=request.user, brewery=request.brewery)
    return EntryPage(BY_SLUG["reading"], form, [])


def _put_back(
    sent: QueryDict, row: RoundRow, told: dict[int, tuple[str, list[str]]], was_saved: bool
) -> None:
    """Keep what was typed into a row that was not saved, and say what is wrong with it."""
    problem = told.get(row.lot.pk)
    if was_saved and problem is None:
        return
    row.typed = sent.get(f"{row.prefix}value", "")
    row.token = sent.get(f"{row.prefix}{TOKEN_FIELD}", "") or row.token
    if problem is not None:
        row.token, row.problems = problem


def _common_form(request: BreweryRequest, asked: Asked) -> ReadingForm:
    """The reading's form for what holds for all rows: the measurand, the instrument and how warm
    the samples are, typed once with wet hands; from paper also when, by whom and why so late."""
    typed = request.POST.get("instrument")
    known = usual_instrument(request, asked.measurand) if typed is None else None
    held = {
        field: request.POST.get(field, request.GET.get(name, ""))
        for field, name in asked.held.items()
    }
    initial = held | {
        "measurand": asked.measurand,
        "instrument": known.name if known else typed or "",
    }
    form = ReadingForm(actor=request.user, brewery=request.brewery, initial=initial)
    degrees: Any = form.fields["sample_temperature"]
    degrees.label = f"Sample temperature, °{degrees.default_unit}"
    degrees.help_text = _HOLDS_FOR_ALL
    degrees.widget.attrs["inputmode"] = "decimal"
    return form


_HOLDS_FOR_ALL = (
    "Of every row saved from here on, until you change it. Empty where it was not taken."
)
