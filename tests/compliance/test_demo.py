"""The demo keeps to its own folder. What it loads and shows is run whole by `.ci/run`."""

from __future__ import annotations

import os
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from compliance.management.commands import demo
from tests import factories


class StartedAgainError(Exception):
    """Stands for the program that would take over."""


@pytest.fixture
def started(monkeypatch):
    """What the program that takes over is started with."""
    seen = {}

    def execve(path, command, environment):
        seen.update(command=command, environment=environment)
        raise StartedAgainError

    monkeypatch.setattr(os, "execve", execve)
    return seen


def run(directory, **options):
    out = StringIO()
    call_command("demo", directory=Path(directory), no_serve=True, stdout=out, **options)
    return out.getvalue()


def test_the_demo_starts_again_in_its_own_folder(started, tmp_path, monkeypatch):
    monkeypatch.setenv("DATABASE_URL", "postgresql://ana@db.example/brewery")
    with pytest.raises(StartedAgainError):
        run(tmp_path / "demo")
    assert started["environment"]["BREWLOG_DATA"] == str(tmp_path / "demo")
    assert "DATABASE_URL" not in started["environment"]


def test_the_demo_never_goes_into_a_database_server(started, settings, monkeypatch):
    on_a_server = {"ENGINE": "django.db.backends.postgresql"}
    monkeypatch.setitem(settings.DATABASES, "default", on_a_server)
    with pytest.raises(StartedAgainError):
        run(settings.DATA_DIR)


@pytest.mark.sqlite
def test_the_demo_does_not_go_among_a_brewerys_own_records(settings, manager):
    factories.brewery(manager)
    with pytest.raises(CommandError, match="holds the records of Saltmarsh Ferments"):
        run(settings.DATA_DIR)


@pytest.mark.sqlite
def test_a_demo_that_is_loaded_only_says_how_to_log_in(settings, manager, operator):
    brewery = factories.brewery(manager)
    with factories.recording(manager, "renamed"):
        brewery.reread()
        brewery.name = demo._demo_name()
        brewery.save()
    out = run(settings.DATA_DIR)
    assert "rows" not in out
    for person, role in ((manager, "manager"), (operator, "operator")):
        line = next(line for line in out.splitlines() if person.username in line)
        assert demo.PASSWORD in line
        assert role in line
