"""Back-ups: whole, while others write, and usable."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import call_command

from brewlog.recording import recording
from tests import factories

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.sqlite]


def back_up(folder):
    out, err = StringIO(), StringIO()
    with pytest.raises(SystemExit) as ended:
        call_command("back_up", str(folder), stdout=out, stderr=err)
    return ended.value.code, out.getvalue(), err.getvalue()


def names_in(database):
    with closing(sqlite3.connect(database)) as opened:
        assert opened.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        return [name for (name,) in opened.execute("SELECT name FROM brewlog_supplier")]


def test_a_copy_holds_the_records_and_the_files(settings, tmp_path):
    manager = factories.person("manager")
    factories.supplier(manager, "Hill Farm")
    certificate = Path(settings.MEDIA_ROOT) / "certificates" / "a.pdf"
    certificate.parent.mkdir(parents=True)
    certificate.write_bytes(b"%PDF")

    code, out, _ = back_up(tmp_path / "copies")

    (copy,) = (tmp_path / "copies").iterdir()
    assert (code, out) == (0, f"Copied to {copy}\n")
    assert names_in(copy / "brewlog.sqlite3") == ["Hill Farm"]
    assert (copy / "files" / "certificates" / "a.pdf").read_bytes() == b"%PDF"
    assert not (copy / "secret-key").exists()


def test_a_copy_made_while_someone_writes_has_all_of_it_or_nothing(tmp_path):
    manager = factories.person("manager")
    factories.supplier(manager, "Hill Farm")
    with recording(manager):
        factories.supplier(manager, "Dale Farm")
        assert back_up(tmp_path)[0] == 0
    (copy,) = tmp_path.glob("brewlog-*")
    assert names_in(copy / "brewlog.sqlite3") == ["Hill Farm"]


def test_a_folder_that_cannot_be_written_is_named(tmp_path):
    (tmp_path / "taken").write_text("")
    code, _, err = back_up(tmp_path / "taken")
    assert code == 1
    assert "cannot be written" in err
