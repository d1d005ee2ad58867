"""`manage.py import_records`: its answers, its exit codes, its tables."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from django.core.management import call_command

from brewlog.importing.sheets import SHEETS
from brewlog.models import ImportedRow, Supplier
from tests import factories
from tests.importing import small

pytestmark = pytest.mark.django_db


def write(folder: Path, content: small.Sheets) -> Path:
    for name, data in small.files(content):
        (folder / name).write_bytes(data)
    return folder


def run(*arguments: str) -> tuple[int, str, str]:
    """The exit code, what was printed, and what was complained of."""
    printed, complained = io.StringIO(), io.StringIO()
    with pytest.raises(SystemExit) as ended:
        call_command("import_records", *arguments, stdout=printed, stderr=complained)
    return ended.value.code, printed.getvalue(), complained.getvalue()


@pytest.fixture
def folder(tmp_path) -> Path:
    return write(tmp_path, small.sheets())


def test_a_folder_is_recorded_by_the_one_manager(brewery, manager, folder):
    code, printed, _ = run(str(folder))

    assert code == 0
    assert "Saved: " in printed
    assert Supplier.objects.count() == 2
    assert Supplier.history.first().history_user == manager


def test_a_dry_run_saves_nothing(brewery, folder):
    code, printed, _ = run(str(folder), "--dry-run")

    assert code == 0
    assert "Checked only: nothing was saved." in printed
    assert not Supplier.objects.exists()


def test_mistakes_are_printed_with_their_place_and_end_with_one(brewery, folder):
    content = small.sheets()
    content["Vessels"][1]["Holds"] = "60 kg"
    write(folder, content)

    code, printed, _ = run(str(folder))

    assert code == 1
    (line,) = [line for line in printed.splitlines() if "60 kg" in line and "Vessels" in line]
    assert [part.strip() for part in line.split("│")[1:5]] == ["Vessels", "3", "Holds", "60 kg"]
    assert "Nothing was saved." in printed
    assert not ImportedRow.objects.exists()


def test_rows_that_were_not_looked_at_are_counted(brewery, folder):
    content = small.sheets()
    content["Cultures"][0]["Starter liquid"] = "12 kg"
    write(folder, content)

    _, printed, _ = run(str(folder))

    assert "3 rows not looked at: they lean on a row with a mistake." in printed


def test_changed_rows_end_with_one_unless_they_are_left(brewery, folder):
    run(str(folder))
    content = small.sheets()
    content["Suppliers"][0]["Country"] = "Spain"
    write(folder, content)

    code, printed, _ = run(str(folder))
    assert code == 1
    assert "Portugal" in printed
    assert "Spain" in printed
    code, _, _ = run(str(folder), "--leave-changed")

    assert code == 0
    assert Supplier.objects.get(name="Hill & Leaf Teas").country == "Portugal"


def test_with_several_managers_it_asks_who_records(brewery, folder):
    other = factories.person("manager")

    code, _, complained = run(str(folder))
    assert code == 2
    assert "--as USERNAME" in complained
    code, _, _ = run(str(folder), "--as", other.username)

    assert code == 0
    assert Supplier.history.first().history_user == other


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["nowhere"], "There is no file or folder"),
        ([], "Name a folder or a workbook"),
        (["nowhere", "--as", "nobody"], "Nobody is called 'nobody'"),
    ],
)
def test_a_wrong_call_ends_with_two(brewery, arguments, words):
    code, _, complained = run(*arguments)

    assert code == 2
    assert words in complained


def test_an_operator_may_not_import(brewery, operator, folder):
    code, _, complained = run(str(folder), "--as", operator.username)

    assert code == 2
    assert "may not import" in complained


def test_a_template_needs_no_brewery(tmp_path):
    printed = io.StringIO()

    call_command("import_records", "--template", str(tmp_path / "new"), stdout=printed)

    assert len(list((tmp_path / "new").glob("*.csv"))) == len(SHEETS)
    assert f"{len(SHEETS) + 1} files written" in printed.getvalue()
