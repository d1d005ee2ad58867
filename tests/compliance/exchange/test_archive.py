"""The whole install leaves in open forms and comes back the same, or not at all."""

from __future__ import annotations

import hashlib
import io
import json
import zipfile
from io import StringIO
from pathlib import Path

import pytest
from django.core.files.base import ContentFile
from django.core.management import call_command

from brewlog.domain import people
from brewlog.ledger import on_hand
from brewlog.models import Ingredient, IngredientLot, Lot, Supplier, User
from brewlog.recording import recording
from brewlog.trace import backward, composition, recall
from brewlog.verify import verify
from compliance.exchange.packing import write_archive
from tests import factories
from tests.compliance import rules
from tests.compliance.documents import story as told

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def archive(brewery, manager, tmp_path) -> Path:
    """The archive of a small brewery: a chain, limits in force, a signature, a file, a void."""
    story = told.tell(manager)
    rules.bound(manager, "kombucha-guidance")
    rules.signature(manager)
    certificate = ContentFile(b"%PDF-1.4\n", name="certificate.pdf")
    factories.ingredient_lot(manager, certificate=certificate)
    people.set_logo(actor=manager, reason="a new sign", logo=factories.picture())
    with recording(manager, "a better name"):
        story.customer.reread()
        story.customer.name = "Café Ñandú & Søn"
        story.customer.save()
    path = tmp_path / "out.zip"
    path.write_bytes(packed())
    return path


def packed() -> bytes:
    to = io.BytesIO()
    write_archive(to)
    return to.getvalue()


def empty(settings) -> None:
    """This install as it is after `migrate`: no records, no files."""
    call_command("flush", interactive=False, verbosity=0)
    settings.MEDIA_ROOT = Path(settings.MEDIA_ROOT).with_name("new-files")


def read_in(path: Path) -> tuple[int, str, str]:
    out, err = StringIO(), StringIO()
    with pytest.raises(SystemExit) as ended:
        call_command("import_archive", str(path), stdout=out, stderr=err)
    return ended.value.code, out.getvalue(), err.getvalue()


def answers() -> list[object]:
    """What the trace says of every lot."""
    lots = list(Lot.objects.order_by("pk"))
    return [
        on_hand([lot.pk for lot in lots]),
        *(recall(lot) for lot in lots),
        *(backward(lot) for lot in lots),
        *(composition(lot).parts for lot in lots),
    ]


def changed(path: Path, member: str, content: bytes | None, to: Path, manifest=None) -> Path:
    """A copy with one part changed, taken out (None) or added, and the manifest left or made."""
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(to, "w") as new:
        for name in old.namelist():
            if name == "manifest.json" and manifest:
                new.writestr(name, json.dumps(manifest))
            elif name != member:
                new.writestr(name, old.read(name))
        if content is not None:
            new.writestr(member, content)
    return to


def test_export_import_export_is_the_same_to_the_byte_and_so_are_the_answers(archive, settings):
    before = answers()
    assert packed() == archive.read_bytes()
    empty(settings)
    code, out, err = read_in(archive)
    assert (code, err) == (0, "")
    assert "2 files read in. Nobody has a password yet" in out
    assert packed() == archive.read_bytes()
    assert answers() == before
    assert list(verify()) == []


def test_what_is_recorded_afterwards_goes_on_from_there(archive, settings):
    last = Supplier.objects.order_by("pk").last().pk
    versions = Ingredient.history.count()
    empty(settings)
    read_in(archive)
    manager = User.objects.get(groups__name="manager")
    assert not manager.has_usable_password()
    assert factories.supplier(manager, "Dale Farm").pk > last
    factories.ingredient(manager)
    assert Ingredient.history.count() == versions + 1


def test_files_come_with_the_rows_that_name_them(archive, settings):
    empty(settings)
    read_in(archive)
    (lot,) = IngredientLot.objects.exclude(certificate="")
    with lot.certificate.open() as file:
        assert file.read() == b"%PDF-1.4\n"


def test_the_parts_are_open_described_and_hold_no_password(archive):
    with zipfile.ZipFile(archive) as parts:
        columns = json.loads(parts.read("columns.json"))
        people = [json.loads(line) for line in parts.open("tables/brewlog_user.jsonl")]
        manifest = json.loads(parts.read("manifest.json"))
        for part in manifest["parts"]:
            assert hashlib.sha256(parts.read(part["name"])).hexdigest() == part["sha256"]
    assert {"column": "line_id", "type": "integer", "means": "line", "refers to": "brewlog_cultureline"} in columns["brewlog_culturelot"]  # fmt: skip  # noqa: E501
    assert "compliance_historicalsignature" in columns
    assert all("password" not in person for person in people)


def test_a_file_that_is_gone_is_named_and_the_rest_written(archive, settings):
    (lot,) = IngredientLot.objects.exclude(certificate="")
    lot.certificate.storage.delete(lot.certificate.name)
    out, err = StringIO(), StringIO()
    to = archive.with_name("again.zip")
    with pytest.raises(SystemExit):
        call_command("export_archive", str(to), stdout=out, stderr=err)
    assert f"rows written to {to}" in out.getvalue()
    assert f"A record names the file {lot.certificate.name}" in err.getvalue()
    empty(settings)
    assert read_in(to)[0] == 0
    assert packed() == to.read_bytes()


def test_an_archive_never_goes_on_top_of_records(archive):
    code, _, err = read_in(archive)
    assert code == 1
    assert "There are records here already" in err
    assert "into an empty install only" in err


def test_an_export_never_goes_over_a_file(archive):
    err = StringIO()
    with pytest.raises(SystemExit) as ended:
        call_command("export_archive", str(archive), stderr=err)
    assert ended.value.code == 1
    assert "cannot be written: File exists." in err.getvalue()


def test_a_part_changed_taken_out_or_added_is_named_and_nothing_is_read(
    archive, settings, tmp_path
):
    empty(settings)
    uses, copy = "tables/brewlog_lotuse.jsonl", tmp_path / "copy.zip"
    for member, content, words in (
        (uses, b"", f"{uses} is not what it was when the archive was made"),
        (uses, None, f"{uses}: missing from the archive"),
        ("files/extra.pdf", b"x", "files/extra.pdf: in the archive and not in its manifest"),
        ("manifest.json", b"{}", "This is not a whole archive: its manifest.json is missing"),
    ):
        code, _, err = read_in(changed(archive, member, content, copy))
        assert code == 1
        assert words in err
        assert not User.objects.exists()


def test_rows_that_do_not_fit_together_are_refused_whole(archive, settings, tmp_path):
    """Somebody made the manifest anew, too: the rows themselves are looked at."""
    member = "tables/brewlog_lot.jsonl"
    with zipfile.ZipFile(archive) as parts:
        rows = parts.read(member).splitlines(keepends=True)
        manifest = json.loads(parts.read("manifest.json"))
    content = b"".join(rows[1:])
    for part in manifest["parts"]:
        if part["name"] == member:
            part["sha256"] = hashlib.sha256(content).hexdigest()
    empty(settings)
    code, _, err = read_in(changed(archive, member, content, tmp_path / "copy.zip", manifest))
    assert code == 1
    assert "points at one that is not in it" in err
    assert not User.objects.exists()
    assert not list(Path(settings.MEDIA_ROOT).glob("**/*.pdf"))


def test_what_is_no_archive_is_said(tmp_path):
    (tmp_path / "notes.zip").write_text("notes")
    assert "cannot be opened as an archive" in read_in(tmp_path / "notes.zip")[2]
