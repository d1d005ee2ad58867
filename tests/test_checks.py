"""The system checks: clean as it stands, and each finds what it is there for."""

from __future__ import annotations

import pytest
from django.core.management import call_command
from django.core.management.base import SystemCheckError
from django.db import models
from django.test.utils import isolate_apps

from brewlog import checks
from brewlog.models.base import Guarded


def ids(messages):
    return [message.id for message in messages]


def own_models(monkeypatch, *own):
    monkeypatch.setattr(checks, "_own_models", lambda: list(own))


def test_the_program_as_it_stands_is_clean():
    call_command("check", fail_level="WARNING")


def test_our_models_are_looked_at_and_their_history_is_not():
    names = {model.__name__ for model in checks._own_models()}
    assert {"User", "Lot", "LotUse", "BottlingLot", "Shipment"} <= names
    assert not any(name.startswith("Historical") for name in names)


@isolate_apps("brewlog")
def test_a_link_that_is_not_protected_is_found(monkeypatch):
    class Note(models.Model):
        lot = models.ForeignKey("brewlog.Lot", on_delete=models.CASCADE)

        class Meta:
            app_label = "brewlog"

    own_models(monkeypatch, Note)
    found = checks.every_link_is_protected(None)
    assert ids(found) == ["brewlog.E001"]
    assert "Note.lot" in found[0].msg


@isolate_apps("brewlog")
def test_a_record_without_history_is_found(monkeypatch):
    class Note(Guarded):
        class Meta:
            app_label = "brewlog"

    own_models(monkeypatch, Note)
    assert ids(checks.every_record_has_history(None)) == ["brewlog.E002"]


@isolate_apps("brewlog")
def test_a_many_to_many_link_of_a_record_is_found(monkeypatch):
    class Note(Guarded):
        lots = models.ManyToManyField("self")

        class Meta:
            app_label = "brewlog"

    own_models(monkeypatch, Note)
    assert ids(checks.links_have_a_record_of_their_own(None)) == ["brewlog.E006"]


@pytest.mark.parametrize(
    ("database", "expected"),
    [
        ({"ENGINE": "django.db.backends.sqlite3"}, "brewlog.E003"),
        (
            {
                "ENGINE": "django.db.backends.sqlite3",
                "OPTIONS": {"transaction_mode": "DEFERRED"},
            },
            "brewlog.E003",
        ),
        ({"ENGINE": "django.db.backends.postgresql", "ATOMIC_REQUESTS": True}, "brewlog.E005"),
    ],
)
def test_a_database_setting_that_undoes_a_rule_stops_every_command(
    monkeypatch, settings, database, expected
):
    monkeypatch.setitem(settings.DATABASES, "default", database)
    with pytest.raises(SystemCheckError, match=expected):
        call_command("check")


def test_postgresql_needs_no_transaction_mode(monkeypatch, settings):
    monkeypatch.setitem(settings.DATABASES, "default", {"ENGINE": "django.db.backends.postgresql"})
    assert checks.sqlite_queues_its_writers(None) == []


def test_history_that_is_off_stops_every_command(settings):
    settings.SIMPLE_HISTORY_ENABLED = False
    with pytest.raises(SystemCheckError, match=r"brewlog\.E004"):
        call_command("check")
