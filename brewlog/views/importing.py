"""Importing spreadsheets in the browser: send them, look at what would happen, go on."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from brewlog.entries.base import MANAGE
from brewlog.forms.importing import ConfirmForm, UploadForm
from brewlog.importing import keeping
from brewlog.importing.reading import read_files
from brewlog.importing.running import Outcome, describe, import_source
from brewlog.importing.sheets import SHEETS
from brewlog.importing.template import template_workbook
from brewlog.views.access import needs

_WORKBOOK = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
# A page of more mistakes than this helps nobody; the rest shows once these are mended.
_MOST_SHOWN = 500
_MOST_NAMED = 3
_MOST_SAID = 10


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@needs(MANAGE)
def import_upload(request: HttpRequest) -> HttpResponse:
    """Take spreadsheets and look at them; nothing is recorded yet."""
    form = UploadForm(request.POST, request.FILES) if request.method == "POST" else UploadForm()
    if not form.is_valid():
        context = {"form": form, "sheets": SHEETS, "here": "record"}
        return render(request, "brewlog/import.html", context)
    files = [(each.name, each.read()) for each in form.cleaned_data["spreadsheets"]]
    name = _named([file_name for file_name, _ in files])
    outcome = import_source(read_files(name, files), actor=_person(request), dry_run=True)
    token = keeping.keep(
        owner_id=_person(request).pk, name=name, files=files, found=describe(outcome)
    )
    return redirect("import-preview", token)


def _person(request: HttpRequest) -> Any:
    return request.user


def _named(names: list[str]) -> str:
    shown = ", ".join(names[:_MOST_NAMED])
    more = len(names) - _MOST_NAMED
    return f"{shown} and {more} more" if more > 0 else shown


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@needs(MANAGE)
def import_preview(request: HttpRequest, token: str) -> HttpResponse:
    """What would happen; sent back, it happens, from the very bytes that were looked at."""
    kept = keeping.find(token, _person(request).pk)
    if kept is None:
        messages.warning(
            request,
            "That upload is not kept any more: it was recorded, or left for a day. Send the files "
            "again to see. What is recorded already is not recorded twice.",
        )
        return redirect("import")
    if request.method != "POST":
        return _show(request, kept.found)
    form = ConfirmForm(request.POST)
    leave_changed = form.is_valid() and form.cleaned_data["leave_changed"]
    outcome = import_source(kept.source(), actor=_person(request), leave_changed=leave_changed)
    if not outcome.saved:
        return _show(request, describe(outcome), status=422)
    keeping.forget(token)
    messages.success(request, _thanks(outcome))
    for words in outcome.seen[:_MOST_SAID]:
        messages.error(request, words)
    if len(outcome.seen) > _MOST_SAID:
        messages.error(request, f"And {len(outcome.seen) - _MOST_SAID} more, under holds.")
    return redirect("records")


def _thanks(outcome: Outcome) -> str:
    rows = "1 row" if outcome.new == 1 else f"{outcome.new} rows"
    return f"Imported from {outcome.name}: {rows} recorded."


def _show(request: HttpRequest, found: dict[str, Any], status: int = 200) -> HttpResponse:
    problems, conflicts = found["problems"], found["conflicts"]
    total = {
        name: sum(tally[name] for tally in found["tallies"])
        for name in ("new", "unchanged", "changed", "bad", "leaning")
    }
    context = {
        "found": found,
        "total": total,
        "problems": problems[:_MOST_SHOWN],
        "more_problems": max(0, len(problems) - _MOST_SHOWN),
        "conflicts": conflicts[:_MOST_SHOWN],
        "more_conflicts": max(0, len(conflicts) - _MOST_SHOWN),
        "may_go_on": not problems and total["new"] > 0,
        "form": ConfirmForm(),
        "here": "record",
    }
    return render(request, "brewlog/import_preview.html", context, status=status)


@require_safe
@needs(MANAGE)
def import_template(request: HttpRequest) -> HttpResponse:
    """A workbook of empty sheets to fill in."""
    response = HttpResponse(template_workbook(), content_type=_WORKBOOK)
    response["Content-Disposition"] = 'attachment; filename="brewlog-sheets.xlsx"'
    return response
