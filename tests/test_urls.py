"""Every address, opened by everyone, against a table of who may.

An address without a row here fails the test: say first who may open it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.apps import apps
from django.core.files.base import ContentFile
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import get_resolver, reverse

from brewlog.entries import ENTRIES, FURTHER_ENTRIES
from brewlog.models import User
from brewlog.verify import recorded_models
from compliance.domain import labels, logs
from compliance.models import Limit
from tests import factories
from tests.compliance import rules
from tests.compliance.domain import plans as planned

WHO = ("stranger", "guest", "inspector", "operator", "reviewer", "manager")

# What each of WHO is answered. A stranger is sent to log in; a guest has no role.
ANYONE = (200, 200, 200, 200, 200, 200)
READERS = (302, 403, 200, 200, 200, 200)
RECORDERS = (302, 403, 403, 200, 200, 200)
REVIEWERS = (302, 403, 403, 403, 200, 200)
MANAGERS = (302, 403, 403, 403, 403, 200)
# What somebody likes is nobody's record: whoever reads may keep it.
PREFERENCES = {"saved-views", "saved-view-save"}
# Only sent, never opened.
POST_ONLY = (302, 405, 405, 405, 405, 405)


class World:
    """One of each thing an address can name, in a brewery that is there already."""

    def __init__(self, manager: User) -> None:
        self.manager = manager
        self.line = factories.culture_line(manager)
        self.tea = factories.ingredient_lot(
            manager, certificate=ContentFile(b"%PDF-1.4\n", name="certificate.pdf")
        )
        self.batch = factories.batch(manager)
        self.bottles = factories.bottles(manager, batch=self.batch, drawn="33 L")
        self.shipment = factories.shipment(manager, self.bottles)
        self.instrument = factories.instrument(manager)
        self.version = factories.recipe_version(manager)
        self.location = factories.location(manager)
        self.keg = factories.keg(manager)
        self.vessel = factories.vessel(manager)
        self.hold = factories.hold(manager, self.tea, "other")
        self.deviation = rules.deviation(manager, self.bottles)
        self.limit: Limit = rules.bound(manager, "kombucha-guidance").limits.get(key="ph-finished")
        self.signature = rules.signature(manager)
        self.recall = rules.ask_recall(manager, self.bottles)
        self.plan = planned.draft(manager, limit=self.limit)
        self.complaint = complaint(manager, self.bottles)
        self.found_out = factories.calibration(manager, self.instrument, "out")
        self.label_run = labels.print_labels(
            actor=manager, lot=self.bottles, count=8, when=factories.at(22)
        )
        self.buffer = factories.buffer_bottle(manager)
        self.upload = self._uploaded()
        self.logger_file = self._logger_file()

    def _logger_file(self) -> str:
        """A logger's file sent and not confirmed: its token."""
        file = SimpleUploadedFile("cooler.csv", b"Time,Temp C\n2026-03-04 10:00,4.5\n", "text/csv")
        form = {"location": self.location.name, "every_minutes": "30", "clock": "local"}
        sent = browser_of(self.manager).post(reverse("logger-upload"), {**form, "file": file})
        return sent.headers["Location"].rstrip("/").rpartition("/")[2]

    def _uploaded(self) -> str:
        """A sheet sent for import and not confirmed: its token."""
        browser = browser_of(self.manager)
        sheet = SimpleUploadedFile("Suppliers.csv", b"Name\nHill Farm\n", "text/csv")
        sent = browser.post(reverse("import"), {"spreadsheets": sheet})
        return sent.headers["Location"].rstrip("/").rpartition("/")[2]


def complaint(actor: User, lot: Any) -> Any:
    """A complaint about a lot, and nothing that it sets off."""
    (found,) = logs.record_complaint(
        actor=actor, kind="taste", said_by="a shop", what="sharp", lot=lot, when=factories.at(25)
    )
    return found


Arguments = Callable[[World], dict[str, Any]]


def _nothing(w: World) -> dict[str, Any]:
    return {}


def _download(w: World) -> dict[str, Any]:
    return {"ending": "csv"}


def _bottles(w: World) -> dict[str, Any]:
    return {"code": w.bottles.code}


def _record(w: World) -> dict[str, Any]:
    return {"model": "shipment", "pk": w.shipment.pk}


def _pk(find: Callable[[World], Any]) -> Arguments:
    return lambda w: {"pk": find(w).pk}


def _slug(slug: str) -> Arguments:
    return lambda w: {"slug": slug}


LISTS = (
    "batch", "bottling", "culture", "brew", "ingredient-lot", "preparation", "lot", "hold", "flag",
    "kept-bottles",
    "reading", "condition-check", "lab-result", "adjustment", "move", "calibration", "shipment",
    "customer", "keg", "location", "recipe", "ingredient", "supplier", "vessel", "instrument",
    "culture-line", "flavour", "format", "person", "deviation", "recall",
    "shared-device", "usual-run",
    "holiday", "buffer-bottle", "plan", "log", "complaint", "room-temperature", "calibration-due",
    "label-sheet", "label-run",
)  # fmt: skip

TABLE: dict[str, tuple[tuple[int, ...], Arguments]] = {
    "home": (READERS, _nothing),
    "plant": (READERS, _nothing),
    "today-kind": (READERS, _slug("warm")),
    "bottling-day": (READERS, _nothing),
    "batch-to-batch": (READERS, _nothing),
    "batch-to-batch-download": (READERS, _download),
    "login": (ANYONE, _nothing),
    "logout": (POST_ONLY, _nothing),
    # Only there on a shared device.
    "who": ((404,) * 6, _nothing),
    # There is somebody already.
    "first-manager": ((404,) * 6, _nothing),
    "own-password": ((302, 200, 200, 200, 200, 200), _nothing),
    "records": (READERS, _nothing),
    "saved-views": (READERS, _nothing),
    "saved-view-save": (READERS, lambda w: {"noun": "batch"}),
    "record-detail": (READERS, _record),
    "record-history": (READERS, _record),
    "record-void": (RECORDERS, _record),
    "record-correct": (RECORDERS, _record),
    "record-file": (
        READERS,
        lambda w: {"model": "ingredientlot", "pk": w.tea.pk, "field": "certificate"},
    ),
    "entry-index": (RECORDERS, _nothing),
    "before-reading": (RECORDERS, _nothing),
    "round": (RECORDERS, _nothing),
    "calculations": (READERS, _nothing),
    "calculation": (READERS, _slug("hydrometer")),
    "import": (MANAGERS, _nothing),
    "import-template": (MANAGERS, _nothing),
    "import-preview": (MANAGERS, lambda w: {"token": w.upload}),
    "find": (READERS, _nothing),
    "lot-detail": (READERS, _bottles),
    "lot-course": (READERS, _bottles),
    "lot-history": (READERS, _bottles),
    "lot-stock": (READERS, _bottles),
    "ingredient-stock": (READERS, _pk(lambda w: w.tea.ingredient)),
    "flavour-stock": (READERS, _pk(lambda w: w.bottles.flavour)),
    "lot-stock-download": (READERS, lambda w: {"code": w.bottles.code, "ending": "csv"}),
    "ingredient-stock-download": (
        READERS,
        lambda w: {"pk": w.tea.ingredient.pk, "ending": "csv"},
    ),
    "flavour-stock-download": (READERS, lambda w: {"pk": w.bottles.flavour.pk, "ending": "csv"}),
    "lot-history-download": (READERS, lambda w: {"code": w.bottles.code, "ending": "csv"}),
    "family": (READERS, _pk(lambda w: w.line)),
    "lot-trace": (READERS, _bottles),
    "lot-recall": (READERS, _bottles),
    "lot-sheet-pdf": (READERS, _bottles),
    "lot-trace-pdf": (READERS, _bottles),
    "lot-labels-pdf": (READERS, _bottles),
    "lot-labels": (READERS, _bottles),
    "lot-card-pdf": (READERS, lambda w: {"code": w.tea.code}),
    "vessel-card-pdf": (READERS, _pk(lambda w: w.vessel)),
    "papers": (READERS, _nothing),
    "paper-pdf": (READERS, lambda w: {"key": "set"}),
    "label-run-pdf": (RECORDERS, _pk(lambda w: w.label_run)),
    "label-run-file": (READERS, lambda w: {"pk": w.label_run.pk, "ending": "xlsx"}),
    "lot-recall-file": (READERS, lambda w: {"code": w.tea.code, "ending": "zip"}),
    "person-detail": (READERS, _pk(lambda w: w.manager)),
    "ingredient-detail": (READERS, _pk(lambda w: w.tea.ingredient)),
    "supplier-detail": (READERS, _pk(lambda w: w.tea.supplier)),
    "recipe-detail": (READERS, _pk(lambda w: w.version.recipe)),
    "vessel-detail": (READERS, _pk(lambda w: w.vessel)),
    "instrument-detail": (READERS, _pk(lambda w: w.instrument)),
    "buffer-bottle-detail": (READERS, _pk(lambda w: w.buffer)),
    "customer-detail": (READERS, _pk(lambda w: w.shipment.customer)),
    "shipment-detail": (READERS, _pk(lambda w: w.shipment)),
    "location-detail": (READERS, _pk(lambda w: w.location)),
    "keg-detail": (READERS, _pk(lambda w: w.keg)),
    "culture-line-detail": (
        READERS,
        _pk(lambda w: w.batch.uses_in.get(purpose="starter").source.detail.line),
    ),
    "flavour-detail": (READERS, _pk(lambda w: w.bottles.flavour)),
    "format-detail": (READERS, _pk(lambda w: w.bottles.format)),
    "hand-over-index": (READERS, _nothing),
    "hand-over": (READERS, _slug("traceability")),
    "hand-over-download": (READERS, lambda w: {"slug": "organic", "ending": "xlsx"}),
    "binder": (READERS, _nothing),
    "binder-pdf": (READERS, _nothing),
    "plan-pdf": (READERS, _pk(lambda w: w.plan)),
    "archive": (MANAGERS, _nothing),
    "archive-download": (MANAGERS, _nothing),
    "findings": (READERS, _nothing),
    "findings-download": (READERS, _download),
    "finding-detail": (READERS, lambda w: {"lot": w.bottles.pk, "limit": w.limit.pk}),
    "rules": (READERS, _nothing),
    "rules-compare": (READERS, _nothing),
    "ruleset-detail": (READERS, lambda w: {"key": "kombucha-guidance", "edition": "2013"}),
    "hold-detail": (READERS, _pk(lambda w: w.hold)),
    "deviation-detail": (READERS, _pk(lambda w: w.deviation)),
    "recall-detail": (READERS, _pk(lambda w: w.recall)),
    "reviews": (READERS, _nothing),
    "reviews-download": (READERS, _download),
    "signature": (READERS, _pk(lambda w: w.signature)),
    "lot-release": (READERS, _bottles),
    "plan-front": (READERS, _nothing),
    "plan-detail": (READERS, _pk(lambda w: w.plan.plan)),
    "plan-version": (READERS, _pk(lambda w: w.plan)),
    "plan-texts-change": (MANAGERS, _pk(lambda w: w.plan)),
    "plan-step-change": (MANAGERS, _pk(lambda w: w.plan.steps.first())),
    "complaint-detail": (READERS, _pk(lambda w: w.complaint)),
    "logger-upload": (RECORDERS, _nothing),
    # A file is its sender's own: anyone else who records is asked for one.
    "logger-preview": ((302, 403, 403, 302, 302, 200), lambda w: {"token": w.logger_file}),
    "location-temperature": (READERS, _pk(lambda w: w.location)),
    "look-back": (READERS, _pk(lambda w: w.found_out)),
    **{f"{noun}-list": (READERS, _nothing) for noun in LISTS},
    **{f"{noun}-download": (READERS, _download) for noun in LISTS},
}

# `entry` is one address for every verb: who may, verb by verb.
ENTRY_TABLE: dict[str, tuple[int, ...]] = {
    **dict.fromkeys(
        (
            "buffer-bottle", "deviation-lots", "supplier", "ingredient", "receive",
            "accept", "reject", "prepare", "culture-line",
            "buy-culture", "feed", "pool", "keep-back", "split-backup", "retire", "vessel", "brew",
            "brew-volume", "batch", "fill", "pitch", "step", "transfer", "use", "instrument",
            "calibrate", "calibration-point", "reading", "condition", "lab-result",
            "alcohol-estimate", "flavour", "bottle", "bottle-one", "line-clearance", "breakage",
            "bottle-wash", "keep-bottles", "pull-bottles", "location", "move", "customer", "ship",
            "stall-sale", "shipment-line", "take-back", "adjust", "count", "keg", "keg-event",
            "deviation", "look-back", "log-cleaning", "log-sanitiser", "log-training", "log-pest",
            "log-water", "log-maintenance", "log-other", "complaint", "start-recall",
            "recall-response",
            "label-sheet", "print-labels", "labels-elsewhere", "count-labels",
        ),
        RECORDERS,
    ),
    **dict.fromkeys(
        (
            "hold", "lift", "settle", "correct-deviation", "dispose", "end-hold", "decide-market",
            "review", "release", "take-back-release", "reanalysis", "complaint-outcome",
            "sign-recall", "close-recall", "reopen-recall",
        ),
        REVIEWERS,
    ),
    **dict.fromkeys(
        (
            "recipe", "recipe-version", "approve", "fix-usual", "format", "person", "role",
            "deactivate",
            "reactivate", "brewery", "logo", "bind-rules", "end-rules", "waive", "house-limit",
            "policy", "replace-house-limit", "end-house-limit",
            "plan", "plan-version", "plan-texts", "plan-step", "plan-step-change",
            "plan-step-drop", "copy-plan", "sign-plan", "password", "holidays",
            "share-device",
            "read-rules",
        ),
        MANAGERS,
    ),
    # One's own units are nobody's record.
    "units": READERS,
    "pin": READERS,
}  # fmt: skip


# Sent by anyone: what is one's own, and what comes before anyone is logged in.
OWN_OR_NOBODYS = {"login", "logout", "who", "own-password", "entry units", "entry pin"}


def browser_of(person: User | None) -> Client:
    browser = Client()
    if person is not None:
        browser.force_login(person)
    return browser


@pytest.fixture
def world(manager, brewery):
    return World(manager)


@pytest.fixture
def browsers(manager, reviewer, operator, inspector) -> dict[str, Client]:
    people = {
        "stranger": None,
        "guest": User.objects.create_user("guest"),
        "inspector": inspector,
        "operator": operator,
        "reviewer": reviewer,
        "manager": manager,
    }
    return {who: browser_of(people[who]) for who in WHO}


def addresses(world: World) -> Iterator[tuple[str, str, tuple[int, ...]]]:
    """Name, address and expected answers of everything there is."""
    for name, (expected, arguments) in TABLE.items():
        yield name, reverse(name, kwargs=arguments(world)), expected
    for slug, expected in ENTRY_TABLE.items():
        yield f"entry {slug}", reverse("entry", kwargs={"slug": slug}), expected


def names_of(patterns: list[Any]) -> Iterator[str]:
    for pattern in patterns:
        if hasattr(pattern, "url_patterns"):
            yield from names_of(pattern.url_patterns)
        else:
            yield pattern.name


def test_every_address_has_its_row():
    assert set(names_of(get_resolver().url_patterns)) == {*TABLE, "entry"}


def test_every_verb_has_its_row():
    assert {entry.slug for entry in (*ENTRIES, *FURTHER_ENTRIES)} == set(ENTRY_TABLE)


@pytest.mark.parametrize("who", WHO)
def test_everyone_opens_what_they_may_and_nothing_else(world, browsers, who):
    wrong = {}
    for name, address, expected in addresses(world):
        answer = browsers[who].get(address)
        if answer.status_code != expected[WHO.index(who)]:
            wrong[name] = answer.status_code
        elif answer.status_code == 302 and who == "stranger":
            assert answer.headers["Location"] == f"{reverse('login')}?next={address}"
        if answer.streaming:
            answer.getvalue()  # read to its end, which closes the file
    assert wrong == {}


def count_of_records() -> dict[str, int]:
    counts = {model.__name__: model._default_manager.count() for model in recorded_models()}
    counts["User"] = User.objects.count()
    return counts


@pytest.mark.parametrize("who", ["stranger", "guest", "inspector"])
def test_who_may_not_write_writes_nothing_by_sending_either(world, browsers, who):
    before = count_of_records()
    for name, address, _ in addresses(world):
        if name in {*OWN_OR_NOBODYS, *PREFERENCES}:
            continue
        answer = browsers[who].post(address, {"reason": "because", "when": "now"})
        refused = {302, 404} if who == "stranger" else {403, 404, 405}
        assert answer.status_code in refused, name
    assert count_of_records() == before
    assert not any(
        model._default_manager.filter(voided_at__isnull=False).exists()
        for model in recorded_models()
    )


def test_a_page_that_is_not_there_is_not_found_only_for_who_may_read(browsers):
    for address in ("/nothing/", "/lots/NONE/", "/records/shipment/0/", "/record/nothing/"):
        assert browsers["manager"].get(address).status_code == 404
    assert browsers["stranger"].get("/lots/NONE/").status_code == 302
    assert browsers["guest"].get("/lots/NONE/").status_code == 403


def test_there_is_no_back_door_for_editing_rows():
    assert not apps.is_installed("django.contrib.admin")
