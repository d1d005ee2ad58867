"""Importing in the browser: a look first, then the very same bytes."""

from __future__ import annotations

import io
import os
import time
from pathlib import Path

import openpyxl
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from brewlog.importing import keeping
from brewlog.models import ImportedRow, Supplier
from tests import factories
from tests.importing import small

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def data_folder(settings, tmp_path) -> Path:
    settings.DATA_DIR = tmp_path
    return tmp_path


@pytest.fixture
def as_manager(client, brewery, manager):
    client.force_login(manager)
    return client


def send(client, content: small.Sheets):
    files = [SimpleUploadedFile(name, data) for name, data in small.files(content)]
    return client.post(reverse("import"), {"spreadsheets": files})


def test_sending_sheets_shows_what_would_be_recorded_and_saves_nothing(as_manager):
    answer = send(as_manager, small.sheets())
    page = as_manager.get(answer.url)

    rows = sum(len(rows) for rows in small.sheets().values())
    assert f"{rows} rows would be recorded" in page.content.decode()
    assert not Supplier.objects.exists()
    assert not ImportedRow.objects.exists()


def test_going_on_records_the_bytes_that_were_looked_at(as_manager, data_folder):
    answer = send(as_manager, small.sheets())

    done = as_manager.post(answer.url, follow=True)

    assert "rows recorded" in done.content.decode()
    assert Supplier.objects.count() == 2
    assert list((data_folder / "imports").iterdir()) == []


def test_mistakes_are_listed_with_their_place_and_there_is_no_way_on(as_manager):
    content = small.sheets()
    content["Vessels"][0]["Holds"] = "120"

    page = as_manager.get(send(as_manager, content).url)

    text = page.content.decode()
    assert "One thing to mend" in text
    assert all(part in text for part in ("Vessels", "Holds", "has no unit"))
    assert '<button type="submit" class="big">Record' not in text


def test_going_on_all_the_same_saves_nothing_where_there_are_mistakes(as_manager):
    content = small.sheets()
    content["Vessels"][0]["Holds"] = "120"
    answer = send(as_manager, content)

    again = as_manager.post(answer.url)

    assert again.status_code == 422
    assert not Supplier.objects.exists()


def test_changed_rows_are_shown_and_left_where_that_is_asked_for(as_manager):
    as_manager.post(send(as_manager, small.sheets()).url)
    content = small.sheets()
    content["Suppliers"][0]["Country"] = "Spain"
    content["Suppliers"].append({"Name": "Orchard Gate"})
    answer = send(as_manager, content)

    text = as_manager.get(answer.url).content.decode()
    assert all(part in text for part in ("Country", "Portugal", "Spain"))
    as_manager.post(answer.url)
    assert Supplier.objects.count() == 2
    as_manager.post(answer.url, {"leave_changed": "yes"})

    assert Supplier.objects.count() == 3
    assert Supplier.objects.get(name="Hill & Leaf Teas").country == "Portugal"


def test_an_upload_is_shown_to_nobody_else(as_manager, client):
    answer = send(as_manager, small.sheets())
    client.force_login(factories.person("manager"))

    page = client.get(answer.url)

    assert page.url == reverse("import")


@pytest.mark.parametrize("token", ["x" * 22, "short", "....................AA"])
def test_an_unknown_token_leads_back_to_the_upload(as_manager, token):
    assert as_manager.get(reverse("import-preview", args=[token])).url == reverse("import")


def test_an_upload_nobody_came_back_for_is_thrown_away(as_manager, data_folder):
    send(as_manager, small.sheets())
    (old,) = (data_folder / "imports").iterdir()
    yesterday = time.time() - 25 * 3600
    os.utime(old, (yesterday, yesterday))

    send(as_manager, small.sheets())

    assert not old.exists()


def test_file_names_from_outside_name_no_file_here(as_manager, data_folder):
    upload = SimpleUploadedFile("suppliers.csv", b"Name\nOrchard Gate\n")
    upload._name = "../../suppliers.csv"

    as_manager.post(reverse("import"), {"spreadsheets": [upload]})

    (folder,) = (data_folder / "imports").iterdir()
    assert sorted(each.name for each in folder.iterdir()) == ["0", "about.json"]


@pytest.mark.parametrize(
    ("name", "words"),
    [("notes.txt", "is not a spreadsheet that can be read"), (None, "No file was chosen")],
)
def test_what_is_no_spreadsheet_is_refused_at_once(as_manager, data_folder, name, words):
    files = [SimpleUploadedFile(name, b"hello")] if name else []

    page = as_manager.post(reverse("import"), {"spreadsheets": files})

    assert words in page.content.decode()
    assert not (data_folder / "imports").exists()


def test_the_page_names_every_sheet_and_offers_them_empty(as_manager):
    text = as_manager.get(reverse("import")).content.decode()
    book = as_manager.get(reverse("import-template"))

    assert "Starter added" in text
    names = openpyxl.load_workbook(io.BytesIO(book.content)).sheetnames
    assert names[:2] == ["Brewery", "People"]


@pytest.mark.parametrize("role", ["operator", "reviewer", "inspector"])
def test_only_a_manager_may_import(client, brewery, role):
    client.force_login(factories.person(role))

    assert client.get(reverse("import")).status_code == 403
    assert client.post(reverse("import")).status_code == 403
    assert client.get(reverse("import-template")).status_code == 403
    assert client.get(reverse("import-preview", args=["x" * 22])).status_code == 403


def test_an_upload_is_found_by_its_token_only():
    token = keeping.keep(owner_id=1, name="a", files=[("a.csv", b"Name\n")], found={})

    assert keeping.find(token, 1).files == [("a.csv", b"Name\n")]
    assert keeping.find(token, 2) is None
    keeping.forget(token)
    assert keeping.find(token, 1) is None
