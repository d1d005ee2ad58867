"""Any entry by itself: its facts and history, and how it is corrected or struck out."""

from __future__ import annotations

from typing import Any

from django.apps import apps
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import models
from django.http import FileResponse, Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.text import get_valid_filename
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from brewlog.domain import lots
from brewlog.domain.looking import look_at, lots_touched
from brewlog.domain.versions import Overtaken, newest_version
from brewlog.forms.uploads import KINDS, ending_of
from brewlog.middleware import BreweryRequest
from brewlog.models import Lot
from brewlog.models.base import Guarded
from brewlog.recording import recording
from brewlog.views.access import READ, RECORD, needs, require
from brewlog.views.corrections import (
    CORRECTABLE,
    VoidForm,
    as_shown,
    as_typed_over,
    changes_in,
    correction_form,
    is_voidable,
    void_permission,
)
from brewlog.views.details import next_links, tables_of
from brewlog.views.entry_page import form_problems, refuse_form
from brewlog.views.events import RECORD_SECTIONS
from brewlog.views.facts import facts_of, title_of
from brewlog.views.history import versions_of
from brewlog.views.links import kind_and_key, page_of, url_of
from brewlog.views.reader import reader_of
from brewlog.views.work import NEXT_FOR_RECORDS


def _model(name: str) -> type[models.Model]:
    """The record model of that name, of any app. Raises `Http404` for what is no record."""
    for model in apps.get_models():
        if model._meta.model_name == name and issubclass(model, Guarded) and model is not Lot:
            return model
    raise Http404(f"There are no records called '{name}'.")


def _record(model_name: str, pk: int) -> Any:
    return get_object_or_404(_model(model_name), pk=pk)


def _context(record: Any) -> dict[str, Any]:
    model = type(record)
    return {
        "here": "records",
        "record": record,
        "title": title_of(record),
        "noun": str(model._meta.verbose_name),
        "kind": model._meta.model_name,
        "page_url": url_of(record),
        "page_title": title_of(page_of(record)),
        "correctable": model in CORRECTABLE and not record.is_void,
        "voidable": is_voidable(record),
        "may_void": void_permission(model),
    }


@require_safe
@needs(READ)
def record_detail(request: BreweryRequest, model: str, pk: int) -> HttpResponse:
    """One entry: what it says, and when it was written, by whom."""
    record = _record(model, pk)
    context = _context(record)
    context |= {
        "facts": facts_of(record),
        "may_void": request.user.has_perm(context["may_void"]),
        "next": next_links(request, record, NEXT_FOR_RECORDS.get(type(record), ())),
        "tables": tables_of(RECORD_SECTIONS.get(type(record), ()), record, reader_of(request)),
    }
    return render(request, "brewlog/record.html", context)


@require_safe
@needs(READ)
def record_history(request: BreweryRequest, model: str, pk: int) -> HttpResponse:
    """Every version of an entry: who, when, why, and what changed."""
    record = _record(model, pk)
    context = {**_context(record), "versions": versions_of(record, reader_of(request))}
    return render(request, "brewlog/record_history.html", context)


@never_cache
def record_void(request: BreweryRequest, model: str, pk: int) -> HttpResponse:
    """Strike an entry out, with a reason. It stays visible."""
    record = _record(model, pk)
    require(request, void_permission(type(record)))
    if not is_voidable(record):
        raise Http404("It is not voided: it is signed, or tells what was done to others.")
    shown = {"seen": newest_version(record)}
    form = VoidForm(
        request.POST or None, actor=request.user, brewery=request.brewery, initial=shown
    )
    if request.method == "POST" and form.is_valid():
        try:
            with recording(request.user):
                lots.void(actor=request.user, record=record, **form.cleaned_data)
                seen = look_at(request.user, lots_touched([record]))
        except Overtaken as error:
            form.go_on_from(error.version, error.names)
            refuse_form(form, error)
        except ValidationError as error:
            refuse_form(form, error)
        else:
            messages.success(request, f"Voided: {record}. It stays visible, struck through.")
            _say(request, seen)
            return redirect(url_of(_record(model, pk)))
    context = {**_context(record), "form": form, "problems": form_problems(form)}
    leaning = [
        (reverse("record-void", args=kind_and_key(each)), str(each))
        for each in lots.leaning_on(getattr(record, "detail", record))
        if is_voidable(each)
    ]
    context |= {"facts": facts_of(record), "leaning": leaning}
    return render(request, "brewlog/record_void.html", context)


@never_cache
@needs(RECORD)
def record_correct(request: BreweryRequest, model: str, pk: int) -> HttpResponse:
    """Mend the plain fields of an entry, with a reason."""
    record = _record(model, pk)
    if type(record) not in CORRECTABLE:
        raise Http404("These entries are not corrected: void the entry and write it again.")
    require(request, void_permission(type(record)))
    form = correction_form(record, request.POST or None, request.user, request.brewery)
    if request.method == "POST" and form.is_valid():
        was = as_shown(record, form.cleaned_data["seen"])
        form = correction_form(was, request.POST, request.user, request.brewery)
        form.full_clean()
        changes = changes_in(form, was)
        sure = {name: form.cleaned_data[name] for name in ("reason", "seen")}
        try:
            if not changes:
                raise ValidationError("Nothing is different from what was written. Change it here.")
            with recording(request.user):
                lots.correct(actor=request.user, record=record, **sure, **changes)
                seen = look_at(request.user, lots_touched([record]))
        except Overtaken as error:
            data = as_typed_over(record, request.POST, form, changes)
            form = correction_form(record, data, request.user, request.brewery)
            refuse_form(form, error)
        except ValidationError as error:
            refuse_form(form, error)
        else:
            messages.success(request, f"Corrected: {record}. Its history has the version before.")
            _say(request, seen)
            return redirect(url_of(record))
    context = {**_context(record), "form": form, "problems": form_problems(form)}
    return render(request, "brewlog/record_correct.html", context)


def _say(request: BreweryRequest, seen: list[str]) -> None:
    """What came of looking at the lots again."""
    for words in seen:
        messages.error(request, words)


@require_safe
@needs(READ)
def record_file(request: BreweryRequest, model: str, pk: int, field: str) -> FileResponse:
    """A file that was kept with an entry: certificate, report, photograph."""
    record = _record(model, pk)
    names = {
        each.name for each in record._meta.concrete_fields if isinstance(each, models.FileField)
    }
    stored = getattr(record, field) if field in names else None
    if not stored or not stored.storage.exists(stored.name):
        raise Http404("There is no such file with this entry.")
    media_type, _ = KINDS.get(ending_of(stored.name), ("application/octet-stream", ()))
    response = FileResponse(stored.open("rb"), content_type=media_type)
    name = get_valid_filename(stored.name.rpartition("/")[2])
    kind = "inline" if media_type.startswith("image/") else "attachment"
    response["Content-Disposition"] = f'{kind}; filename="{name}"'
    response["X-Content-Type-Options"] = "nosniff"
    response["Content-Security-Policy"] = "default-src 'none'; sandbox"
    response["Cache-Control"] = "private, no-store"
    return response
