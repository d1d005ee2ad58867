"""Every verb in the browser: the index of them, and one view that shows and carries out any."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied, ValidationError
from django.db import models
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.html import format_html, format_html_join
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.safestring import SafeString
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_safe

from brewlog.domain.versions import Overtaken
from brewlog.entries import BY_SLUG, ENTRIES, FURTHER_ENTRIES
from brewlog.entries.base import Entry
from brewlog.forms.base import SeenForm
from brewlog.middleware import BreweryRequest
from brewlog.models import Checkpoint, Lot, ReviewFlag, SharedDevice
from brewlog.views import chosen, drafts
from brewlog.views.access import require
from brewlog.views.adding import adds_to_a_register
from brewlog.views.before_reading import remembered
from brewlog.views.beside import beside, lot_named
from brewlog.views.corrections import is_new, void_permission
from brewlog.views.devices import mark_device
from brewlog.views.drafts import Draft
from brewlog.views.entry_page import EntryPage, blank_page, longer_page, sent_page, typed_page
from brewlog.views.from_recipe import FromRecipe, fill_from_recipe
from brewlog.views.judged import held_to, typed_in, verdicts_on
from brewlog.views.links import kind_and_key, url_of
from brewlog.views.logo import logo_panel
from brewlog.views.meters import remember_instrument
from brewlog.views.offers import offers_for
from brewlog.views.once import Done, record_once
from brewlog.views.panels import ENTRY_PANELS, entry_panel
from brewlog.views.passwords import refuse_wrong_passwords
from brewlog.views.reader import reader_of
from brewlog.views.setting_up import say_what_is_next
from brewlog.views.submissions import new_token, sending_of
from brewlog.views.suggesting import Suggestion, suggest_counts
from brewlog.views.work import FURTHER_WORK, NOT_LISTED, WORK, WorkGroup

ENTRY_PANELS["logo"] = logo_panel


@dataclass(frozen=True)
class Suggests:
    """Rows that a button of the form fills in: the lines' name, the button, what it does."""

    rows: str
    button: str
    ask: Callable[[BreweryRequest, Entry], Suggestion | FromRecipe]


_FROM_RECIPE = Suggests("lines", "Fill in from the recipe", fill_from_recipe)
SUGGESTS = {
    "bottle": Suggests("outputs", "Suggest counts", suggest_counts),
    "brew": _FROM_RECIPE,
    "fill": _FROM_RECIPE,
    "pitch": _FROM_RECIPE,
}

# The field, and the part of an address, that says where a form leads once it is recorded.
THEN = "then"


@require_safe
def entry_index(request: BreweryRequest) -> HttpResponse:
    """Everything this person may record, in the order of the work."""
    listed = [entry for entry in (*ENTRIES, *FURTHER_ENTRIES) if entry.slug not in NOT_LISTED]
    allowed = [entry for entry in listed if request.user.has_perm(entry.permission)]
    if not allowed:
        raise PermissionDenied("Your role reads the records and does not write them.")
    context = {"here": "record", "groups": _grouped(allowed)}
    return render(request, "brewlog/entry_index.html", context)


def _grouped(entries: list[Entry]) -> list[tuple[WorkGroup, list[Entry]]]:
    by_slug = {entry.slug: entry for entry in entries}
    groups = [
        (group, [by_slug.pop(slug) for slug in group.slugs if slug in by_slug])
        for group in (*WORK, *FURTHER_WORK)
    ]
    if by_slug:
        groups.append((WorkGroup("Other entries"), list(by_slug.values())))
    return [(group, listed) for group, listed in groups if listed]


@never_cache
@sensitive_post_parameters("password", "current", "pin", "again")
def entry(request: BreweryRequest, slug: str) -> HttpResponse:
    """One verb: its form, and what happens when it is sent."""
    found = BY_SLUG.get(slug)
    if found is None:
        raise Http404(f"There is no entry called '{slug}'.")
    require(request, found.permission)
    if request.method != "POST":
        return _open(request, found)
    lost = chosen.bring_back(request)
    meanwhile = drafts.put_aside(request, slug, _then(request))
    if drafts.PUT_ASIDE in request.POST and slug in drafts.KEPT:
        return _put_aside(request, found, meanwhile)
    for name in request.POST.getlist("add-rows"):
        return _show(request, longer_page(request, found, name), request.POST.get("form_token"))
    if "suggest" in request.POST and found.slug in SUGGESTS:
        suggestion = SUGGESTS[found.slug].ask(request, found)
        token = request.POST.get("form_token")
        return _show(request, suggestion.page, token, suggestion)
    if meanwhile is not None:
        return _show_meanwhile(request, found, meanwhile)
    page = sent_page(request, found)
    if not (page.is_valid() and not page.miss_files(lost)):
        return _show(request, page, request.POST.get("form_token"))
    return _carry_out(request, page)


def _open(request: BreweryRequest, entry: Entry) -> HttpResponse:
    """The form as it was put aside, or as the address or a calculation fills it in."""
    if "anew" in request.GET:
        drafts.drop(request, entry.slug, _then(request))
    draft = drafts.draft_of(request, entry.slug, _then(request))
    if draft is not None and drafts.WORKED_OUT not in request.GET:
        page = typed_page(request, entry, draft.typed)
        return _show(request, page, draft.token, draft=draft)
    known = remembered(request, entry.slug)
    return _show(request, blank_page(request, entry, entry.about, known))


def _put_aside(
    request: BreweryRequest, entry: Entry, meanwhile: drafts.Meanwhile | None
) -> HttpResponse:
    """It is kept by now: lead back, or stay where a script only keeps it safe.

    Where others wrote in the same fields, whoever is here is told and decides.
    """
    disputed = meanwhile is not None and meanwhile.disputed
    if request.htmx:
        if disputed:
            return render(request, "brewlog/_meanwhile.html")
        return HttpResponse(status=204)
    if meanwhile is not None and disputed:
        return _show_meanwhile(request, entry, meanwhile)
    messages.info(request, "Put aside as you left it. Nothing is recorded yet.")
    return redirect(_then(request) or request.get_full_path())


def _show_meanwhile(
    request: BreweryRequest, entry: Entry, meanwhile: drafts.Meanwhile
) -> HttpResponse:
    """The form with what others wrote in it since it was shown, and what that was."""
    page = typed_page(request, entry, meanwhile.typed)
    page.say_at({name: meanwhile.words(name) for name in meanwhile.wrote})
    return _show(request, page, request.POST.get("form_token"), seen=meanwhile.version)


def _show(
    request: BreweryRequest,
    page: EntryPage[Entry],
    token: str | None = None,
    suggestion: Suggestion | FromRecipe | None = None,
    draft: Draft | None = None,
    seen: int | None = None,
) -> HttpResponse:
    chosen.keep(request, page.all_forms)
    context = {
        "here": "record",
        "page": page,
        "entry": page.entry,
        "token": token or new_token(),
        "then": _then(request),
        "keeps": page.entry.slug in drafts.KEPT,
        "draft": draft,
        "seen": seen or (draft.version if draft else request.POST.get(drafts.SEEN, "")),
        "offers": offers_for(page.all_forms, reader_of(request)),
        "suggestion": suggestion,
        "beside": beside(request, page),
        "held_to": held_to(page.entry.slug, typed_in(page.form), _lots_of(page)),
        "suggests": SUGGESTS.get(page.entry.slug),
        "panel": entry_panel(request, page.entry.slug, page.form),
    }
    return render(request, "brewlog/entry.html", context)


def _lots_of(page: EntryPage[Entry]) -> list[Lot]:
    lot = lot_named(page)
    return [lot] if lot else []


def _carry_out(request: BreweryRequest, page: EntryPage[Entry]) -> HttpResponse:
    sending = sending_of(request)
    try:
        refuse_wrong_passwords(request, page.form)
        done = record_once(request, page, sending, then=_then(request))
    except ValidationError as error:
        if isinstance(error, Overtaken) and isinstance(page.form, SeenForm):
            page.form.go_on_from(error.version, error.names)
        page.refuse(error)
        return _show(request, page, sending.token)
    if isinstance(done, Done):
        return _tell(request, page.entry, done)
    if done.digest == sending.digest:
        messages.info(request, "This form was sent twice. It is recorded once, as shown here.")
        return redirect(done.result_url)
    return _ask_again(request, page, done.result_url)


def _tell(request: BreweryRequest, entry: Entry, done: Done) -> HttpResponse:
    """The page of what was recorded, which says what came of it."""
    drafts.drop(request, entry.slug, _then(request))
    chosen.forget(request)
    messages.success(request, _done_message(request, entry, done.records))
    say_what_is_next(request, entry.slug)
    if done.raised:
        messages.warning(request, _flag_message(done.raised))
    for words in done.seen:
        messages.error(request, words)
    response = redirect(done.address)
    first = done.records[0]
    if isinstance(first, Checkpoint):
        remember_instrument(response, first)
        if _then(request):
            _tell_verdict(request, first)
    if isinstance(first, SharedDevice):
        mark_device(response, first)
    return response


def _tell_verdict(request: BreweryRequest, reading: Checkpoint) -> None:
    """What the reading says, on a page that is not its lot's."""
    verdict = verdicts_on([reading])[reading.pk]
    level = {"stop": messages.ERROR, "look": messages.WARNING}.get(verdict.tone, messages.SUCCESS)
    worst = verdict.said[0]
    messages.add_message(request, level, f"{reading}: {worst.word}. {worst.text} {worst.step}")


def _then(request: BreweryRequest) -> str:
    """The page of ours that the form was opened from and leads back to; '' for the record's."""
    asked = request.POST if request.method == "POST" else request.GET
    address = asked.get(THEN, "")
    is_ours = address.startswith("/") and url_has_allowed_host_and_scheme(address, None)
    return address if is_ours else ""


def _ask_again(request: BreweryRequest, page: EntryPage[Entry], earlier_url: str) -> HttpResponse:
    """The same form came back changed: most likely by the back button, for a second entry."""
    page.form.add_error(
        None,
        format_html(
            'This form was recorded once already (<a href="{}">see that record</a>), with other '
            "contents. If this is a further entry, send it again. If it mends the first, correct "
            "or void that one instead.",
            earlier_url,
        ),
    )
    page.list_problems()
    return _show(request, page, new_token())


def _done_message(request: BreweryRequest, entry: Entry, records: Iterable[Any]) -> SafeString:
    """What was recorded, with links where it is more than one thing, and the way to undo it."""
    links: dict[str, str] = {}
    written = [record for record in records if isinstance(record, models.Model)]
    for record in written:
        links.setdefault(url_of(record), str(record))
    listed = format_html_join(", ", '<a href="{}">{}</a>', list(links.items()))
    said = format_html("Recorded: {} ({}).", entry.title[0].lower() + entry.title[1:], listed)
    if adds_to_a_register(entry):
        address = reverse("entry", args=[entry.slug])
        said = format_html('{} <a href="{}">Add another</a>.', said, address)
    return said + _undoing(request, written)


def _undoing(request: BreweryRequest, written: list[models.Model]) -> SafeString:
    """The links that strike out what is new, for who may; nothing for what was there before."""
    new = [
        record
        for record in written
        if is_new(record) and request.user.has_perm(void_permission(type(record)))
    ]
    ways = [(reverse("record-void", args=kind_and_key(each)), str(each)) for each in new]
    if len(ways) == 1:
        return format_html(' A mistake? <a href="{}">Void it, and say why</a>.', ways[0][0])
    listed = format_html_join(", ", '<a href="{}">{}</a>', ways)
    return format_html(" A mistake? Void, and say why: {}.", listed) if ways else SafeString("")


def _flag_message(flags: list[ReviewFlag]) -> SafeString:
    listed = format_html_join("; ", "{}: {}", [(flag.lot.code, flag.text) for flag in flags])
    return format_html("Needs a look: {}. A reviewer will see it.", listed)
