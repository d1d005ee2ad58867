from __future__ import annotations

import io
import json

import pytest
from django.core.management import CommandError, call_command

from tests.compliance.documents import story as told
from tests.compliance.documents.papers import words_of


@pytest.fixture
def story(brewery, manager):
    return told.tell(manager)


def run(*arguments) -> tuple[int, str, str]:
    """Exit code, output and complaints of a command."""
    out, err = io.StringIO(), io.StringIO()
    with pytest.raises(SystemExit) as ended:
        call_command(*map(str, arguments), stdout=out, stderr=err)
    return ended.value.code, out.getvalue(), err.getvalue()


def test_documents_writes_every_paper_of_a_bottling_lot(story, tmp_path):
    code, out, err = run("documents", "l26071a", "--out", tmp_path / "new" / "folder")
    assert (code, err) == (0, "")
    names = sorted(path.name for path in (tmp_path / "new" / "folder").iterdir())
    assert names == [
        "labels-L26071A.json",
        "labels-L26071A.pdf",
        "lot-L26071A.json",
        "lot-L26071A.pdf",
        "trace-backward-L26071A.json",
        "trace-backward-L26071A.pdf",
        "trace-forward-L26071A.json",
        "trace-forward-L26071A.pdf",
    ]
    assert len(out.split()) == 8
    sheet = (tmp_path / "new" / "folder" / "lot-L26071A.pdf").read_bytes()
    assert "by the command line" in words_of(sheet)


def test_documents_of_a_batch_has_no_labels(story, tmp_path):
    assert run("documents", "B26061A", "--out", tmp_path)[0] == 0
    assert not list(tmp_path.glob("labels*"))


def test_documents_of_a_held_lot_says_why_it_has_no_labels(story, tmp_path):
    told.hold(story.actor, story.culture)
    code, _, err = run("documents", "L26071A", "--out", tmp_path)
    assert code == 3
    assert "must not be labelled for sale" in err
    assert (tmp_path / "lot-L26071A.pdf").exists()


def test_documents_of_an_unknown_lot_names_what_is_near(story, tmp_path):
    code, _, err = run("documents", "L26071Z", "--out", tmp_path / "none")
    assert code == 1
    assert "L26071A" in err
    assert not (tmp_path / "none").exists()


def test_recall_writes_its_packet_and_answers_as_before(story, tmp_path):
    code, out, err = run("recall", "S26060A", "--out", tmp_path)
    assert code == 0
    assert "Café Ñandú" in out
    assert sorted(path.suffix for path in tmp_path.iterdir()) == [".csv", ".json", ".pdf", ".xlsx"]
    assert err.count("written: ") == 4
    assert "URGENT: FOOD RECALL" in words_of((tmp_path / "recall-S26060A.pdf").read_bytes())


def test_recall_keeps_its_json_clean(story, tmp_path):
    code, out, _ = run("recall", "S26060A", "--json", "--out", tmp_path)
    assert code == 0
    assert json.loads(out)["customers"][0]["name"] == "Café Ñandú"


def test_recall_without_a_folder_writes_nothing(story, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert run("recall", "S26060A")[0] == 0
    assert list(tmp_path.iterdir()) == []


def test_documents_needs_a_folder(story):
    with pytest.raises(CommandError, match="--out"):
        call_command("documents", "L26071A")
