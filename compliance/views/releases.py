"""Release of a bottling lot: the check-list, what was signed, and what changed since."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any, cast

from django.apps import apps
from django.core.exceptions import FieldDoesNotExist
from django.db.models import Field
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.views.decorators.http import require_safe

from brewlog.domain.blocks import Block
from brewlog.entries.base import RECORD, REVIEW
from brewlog.middleware import BreweryRequest
from brewlog.models import Lot, LotKind
from brewlog.models.base import Guarded
from brewlog.views.access import READ, needs
from brewlog.views.facts import label_of
from brewlog.views.links import lot_url, url_of
from brewlog.views.lists import Word
from brewlog.views.lots import find_lot, unknown_lot
from compliance.assessment import Finding
from compliance.domain.releases import changed_after_release, release_checklist, standing_release
from compliance.domain.rulesets import in_force
from compliance.domain.signing import Change, is_intact
from compliance.models import Limit, Release, Signature
from compliance.views.wording import finding_url, ruleset_url


@dataclass(frozen=True)
class Changed:
    """A record that is not as it was signed, in words, with the way to it."""

    what: str
    record: str
    fields: str
    url: str = ""


_WHAT = {"changed": "changed", "gone": "struck out or taken away", "added": "added"}


def in_words(change: Change) -> Changed:
    """The record by name, and the fields that differ by theirs."""
    model_name, _, key = change.record.partition(":")
    model = _model(model_name)
    if model is None:
        return Changed(_WHAT[change.what], change.record, "")
    record = model.objects.filter(pk=key).first()
    fields = ", ".join(_label(model, name) for name in change.fields)
    address = reverse("record-detail", args=[model_name, key]) if record else ""
    noun = str(model._meta.verbose_name)
    return Changed(_WHAT[change.what], f"{noun}: {record or key}", fields, address)


def _model(name: str) -> type[Guarded] | None:
    for model in apps.get_models():
        if model._meta.model_name == name and issubclass(model, Guarded):
            return model
    return None


def _label(model: type[Guarded], attname: str) -> str:
    try:
        return label_of(cast(Field, model._meta.get_field(attname.removesuffix("_id")))).lower()
    except FieldDoesNotExist:
        return attname


def release_word(lot: Lot) -> Word:
    """How a bottling lot stands for sale."""
    if standing_release(lot) is not None:
        changes = changed_after_release(lot)
        return Word(
            "released, changed after signature" if changes else "released",
            "look" if changes else "good",
        )
    undone = Release.objects.live().filter(lot=lot.pk).exists()
    return Word("release taken back", "stop") if undone else Word("draft, not released")


@require_safe
@needs(READ)
def lot_release(request: BreweryRequest, code: str) -> HttpResponse:
    """What must be so before the bottles are sold, and what was signed about it."""
    lot = find_lot(request, code)
    if lot is None:
        return unknown_lot(request, code)
    if lot.kind != LotKind.BOTTLING:
        raise Http404(f"{lot} is a {lot.get_kind_display()}. Bottles are released.")
    releases = Release.objects.live().filter(lot=lot.pk).select_related("signature", "undone_by")
    context = {
        "here": "limits",
        "lot": lot,
        "what": lot.detail.describe(),  # type: ignore[attr-defined]
        "word": release_word(lot),
        "standing": standing_release(lot),
        "changes": [in_words(each) for each in changed_after_release(lot)],
        "releases": list(releases.order_by("-id")),
        "checks": checklist(lot),
    }
    return render(request, "compliance/lot_release.html", context)


@dataclass(frozen=True)
class Open:
    """What is still in the way of a release: its page, and the entry that settles it."""

    text: str
    url: str = ""
    entry: str = ""
    button: str = ""
    permission: str = ""


def _in_the_way(lot: Lot, text: str, about: object) -> Open:
    back = {"then": reverse("lot-release", args=[lot.code])}
    if isinstance(about, Limit):
        asked = {"lot": lot.code, "measurand": about.measurand, "stage": about.stage}
        return Open(text, "", _entry("reading", asked | back), "Take a reading", RECORD)
    if isinstance(about, Finding):
        return Open(text, finding_url(about))
    if isinstance(about, Block):
        return Open(text, lot_url(about.because.code))
    if isinstance(about, Lot):
        asked = {"lot": about.code}
        return Open(
            text, lot_url(about.code), _entry("review", asked | back), "Review them", REVIEW
        )
    return Open(text, url_of(about))


def _entry(slug: str, asked: dict[str, str]) -> str:
    return f"{reverse('entry', args=[slug])}?{urlencode({k: v for k, v in asked.items() if v})}"


def checklist(lot: Lot) -> dict[str, Any]:
    """The check-list with the way to settle each line, and the limits it was made by."""
    limits = in_force(timezone.localtime(lot.happened_at).date())
    own = [each for each in limits if each.lot_kind in ("", lot.kind)]
    items = release_checklist(lot)
    return {
        "lot": lot,
        "items": [
            (item, [_in_the_way(lot, text, about) for text, about in item.open]) for item in items
        ],
        "is_clear": all(item.is_met for item in items),
        "limits": [(each, ruleset_url(each.ruleset)) for each in own],
    }


@require_safe
@needs(READ)
def signature(request: BreweryRequest, pk: int) -> HttpResponse:
    """Who signed, when, meaning what, and exactly what."""
    found = get_object_or_404(Signature.objects.select_related("person"), pk=pk)
    contents = json.loads(found.contents)
    context = {
        "here": "limits",
        "signature": found,
        "is_intact": is_intact(found),
        "contents": [_signed(key, fields) for key, fields in sorted(contents.items())],
    }
    return render(request, "compliance/signature.html", context)


def _signed(key: str, fields: dict[str, str]) -> dict[str, Any]:
    """A record as it was signed: its name then, and what it said."""
    model_name, _, number = key.partition(":")
    model = _model(model_name)
    noun = str(model._meta.verbose_name) if model else model_name
    said = [
        (_label(model, name) if model else name, value)
        for name, value in fields.items()
        if value not in {"", "None"}
    ]
    return {
        "title": f"{noun} {fields.get('code') or number}",
        "said": said,
        "url": reverse("record-detail", args=[model_name, number]) if model else "",
    }
