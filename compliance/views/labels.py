"""Labels of a lot: what they say, what was printed, what became of them; and the PDFs."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import content_disposition_header, urlencode
from django.views.decorators.http import require_safe

from brewlog.middleware import BreweryRequest
from brewlog.models import BottlingLot, Lot, LotKind
from brewlog.views import events
from brewlog.views.access import READ, RECORD, needs
from brewlog.views.details import Link
from brewlog.views.lists import XLSX, Column, Listing, choice, get, link
from brewlog.views.lots import find_lot, unknown_lot
from brewlog.views.nouns.parts import (
    CHECKS,
    HAVE,
    IN_USE,
    NOTE,
    SINCE,
    VOIDED,
    choice_filter,
    name_column,
)
from compliance.documents.barcodes import BarcodeError
from compliance.documents.files import file_stem
from compliance.documents.label_packet import LabelPacket, collect_label
from compliance.documents.label_proof import label_proof
from compliance.documents.label_run import PrintedLabel, for_run, labels_of_run, lines_of
from compliance.documents.label_sheets import run_json, run_workbook
from compliance.domain.labelling import refuse_unlabelled
from compliance.domain.labels import Tally, tally
from compliance.label_stock import LabelError
from compliance.models import LabelCount, Labelled, LabelRun, LabelSheet
from compliance.views.documents import AskedWrongly, no_paper, paper_of_lot, pdf, usual_of

_ELSEWHERE = (
    "Those labels were printed elsewhere: what they said is not kept here. Print some anew from "
    "the page of the lot's labels."
)

SHEETS_LISTING = Listing(
    noun="label-sheet",
    path="label-sheets",
    title="Label stock",
    group=HAVE,
    queryset=lambda: LabelSheet.objects.all(),
    columns=(
        name_column(),
        Column("paper", "Paper", choice("paper"), "paper"),
        Column("width", "Width, mm", get("label_width"), "label_width", number=True),
        Column("height", "Height, mm", get("label_height"), "label_height", number=True),
        Column("columns", "Across", get("columns"), number=True),
        Column("rows", "Down", get("rows"), number=True),
        NOTE,
    ),
    search=("name", "note"),
    filters=(choice_filter("paper", "Paper", LabelSheet.Paper.choices), IN_USE, VOIDED),
    order="name",
    start="label-sheet",
    empty="The sheets and rolls of labels there are, by their measures in millimetres.",
)


def _runs() -> QuerySet[LabelRun]:
    return LabelRun.objects.select_related("lot", "sheet", "done_by")


def _stock_of(run: LabelRun) -> LabelSheet | str:
    return "printed elsewhere" if run.is_elsewhere else run.sheet or run.get_stock_display()


def _place_of(run: LabelRun) -> int | None:
    return None if run.is_elsewhere else run.start


RUNS_LISTING = Listing(
    noun="label-run",
    path="label-runs",
    title="Labels printed",
    group=CHECKS,
    queryset=_runs,
    columns=(
        events.WHEN,
        Column("lot", "Lot", link("lot")),
        Column("what", "For", choice("what"), "what"),
        Column("count", "Printed", get("count"), "count", number=True),
        Column("start", "From place", _place_of, number=True),
        Column("sheet", "Stock", _stock_of),
        events.BY,
        events.NOTE,
    ),
    search=("lot__code", "note"),
    filters=(choice_filter("what", "For", Labelled.choices), SINCE, VOIDED),
    start="print-labels",
    empty="Each printing of labels, and of which lot.",
)
LISTINGS = (SHEETS_LISTING, RUNS_LISTING)


@require_safe
@needs(READ)
def lot_labels(request: BreweryRequest, code: str) -> HttpResponse:
    """What the label says, what to check of it, what was printed and what became of it."""
    lot = find_lot(request, code)
    if lot is None:
        return unknown_lot(request, code)
    if lot.kind != LotKind.BOTTLING:
        kind = lot.get_kind_display()
        return no_paper(request, lot, [f"{lot} is a {kind}. Labels are for bottling lots."], 409)
    bottles = BottlingLot.objects.select_related("flavour", "format").get(pk=lot.pk)
    preview = _preview(request, lot)
    context = {
        "here": "records",
        "lot": lot,
        "what": bottles.describe(),
        **preview,
        "tallies": _tallies(bottles),
        "runs": _printed(lot, preview.get("packet")),
        "counts": LabelCount.objects.filter(lot=lot.pk).select_related("done_by").order_by("-id"),
        "links": _links(request, lot, may_print="packet" in preview),
    }
    return render(request, "compliance/lot_labels.html", context)


def _preview(request: BreweryRequest, lot: Lot) -> dict[str, Any]:
    """The label line by line, or why there is none."""
    try:
        packet = collect_label(lot, printed_by=request.user, printed_at=timezone.now())
    except ValidationError as error:
        return {"refused": error.messages}
    return {"packet": packet, "lines": lines_of(packet), "notes": packet.notes}


def _printed(
    lot: Lot, now: LabelPacket | None
) -> list[tuple[LabelRun, PrintedLabel | None, list[str]]]:
    """Each printing with what it said, where that is kept, and the lines that would say something
    else by now."""
    found = []
    for run in _runs().filter(lot=lot.pk).order_by("-id"):
        printed = None if run.is_elsewhere else PrintedLabel.from_json(run.printed)
        differs = printed.differs_from(for_run(now, run)) if printed and now else []
        found.append((run, printed, differs))
    return found


def _tallies(bottles: BottlingLot) -> list[tuple[str, Tally]]:
    """The account of each sort of label of which anything was printed or counted."""
    found = [(str(sort.label), tally(bottles, sort.value)) for sort in Labelled]
    return [(label, each) for label, each in found if each.printed or each.told]


def _links(request: HttpRequest, lot: Lot, may_print: bool) -> list[Link]:
    """What the person may do about them. A lot's labels are printed from here; what became of
    those there are is written down of a lot that is kept back, too."""
    if not request.user.has_perm(RECORD):
        return []
    about = urlencode({"lot": lot.code})
    asked = (
        *((("Print labels", "print-labels"),) if may_print else ()),
        ("Count labels", "count-labels"),
        ("Printed elsewhere", "labels-elsewhere"),
    )
    return [Link(title, f"{reverse('entry', args=[slug])}?{about}") for title, slug in asked]


@needs(READ)
@paper_of_lot
def lot_label_proof(request: BreweryRequest, lot: Lot) -> HttpResponse:
    """The label to look at, marked as a proof. `?symbol=` as when printing; `?paper=`."""
    packet = collect_label(lot, printed_by=request.user, printed_at=timezone.now())
    symbol = request.GET.get("symbol", "data_matrix")
    made = label_proof(packet, usual_of(request), symbol)
    return pdf(made, f"label-proof-{file_stem(lot.code)}")


@require_safe
@needs(RECORD)
def label_run_pdf(request: BreweryRequest, pk: int) -> HttpResponse:
    """The labels of one printing. Only what was recorded as printed is drawn without a mark."""
    run = get_object_or_404(_runs(), pk=pk)
    try:
        if run.is_void:
            raise AskedWrongly(f"That printing was voided: {run.void_reason}")
        if run.is_elsewhere:
            raise AskedWrongly(_ELSEWHERE)
        refuse_unlabelled(run.lot)
        return pdf(labels_of_run(run), f"labels-{file_stem(run.lot.code)}")
    except (LabelError, BarcodeError, AskedWrongly) as error:
        return no_paper(request, run.lot, [str(error)], 409)
    except ValidationError as error:
        return no_paper(request, run.lot, error.messages, 409)


@require_safe
@needs(READ)
def label_run_file(request: BreweryRequest, pk: int, ending: str) -> HttpResponse:
    """What a printing's labels say, for who sets them elsewhere: `xlsx` or `json`."""
    run = get_object_or_404(_runs(), pk=pk)
    if run.is_elsewhere:
        return no_paper(request, run.lot, [_ELSEWHERE], 409)
    if ending == "xlsx":
        response = HttpResponse(run_workbook(run, run.recorded_at), content_type=XLSX)
    elif ending == "json":
        response = HttpResponse(run_json(run), content_type="application/json")
    else:
        raise Http404(f"Of a printing there are xlsx and json, not {ending}.")
    name = f"labels-{file_stem(run.lot.code)}-{run.pk}.{ending}"
    response["Content-Disposition"] = str(content_disposition_header(True, name))
    return response


def run_pdf_link(request: HttpRequest, run: LabelRun) -> Link | None:
    """From the page of a printing to its PDF."""
    if run.is_void or run.is_elsewhere or not request.user.has_perm(RECORD):
        return None
    return Link("Open the labels (PDF)", reverse("label-run-pdf", args=[run.pk]))


def labels_url(record: LabelRun | LabelCount) -> str:
    """The page of a printing or a count: all labels of the lot."""
    return reverse("lot-labels", args=[record.lot.code])
