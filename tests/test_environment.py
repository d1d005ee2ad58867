"""Settings from the environment: read by type, refused with a sentence."""

from __future__ import annotations

import stat
from pathlib import Path

import pytest
from django.core.exceptions import ImproperlyConfigured

from brewlog.environment import env_bool, env_folder, env_list, env_secret, env_text


def test_text_has_a_default_where_it_is_not_set_or_empty(monkeypatch):
    assert env_text("BREWLOG_X", "plain") == "plain"
    monkeypatch.setenv("BREWLOG_X", "")
    assert env_text("BREWLOG_X", "plain") == "plain"
    monkeypatch.setenv("BREWLOG_X", "other")
    assert env_text("BREWLOG_X", "plain") == "other"


@pytest.mark.parametrize(
    ("raw", "value"),
    [("yes", True), (" On ", True), ("1", True), ("TRUE", True), ("no", False), ("0", False)],
)
def test_yes_and_no_are_read_in_the_usual_words(monkeypatch, raw, value):
    monkeypatch.setenv("BREWLOG_X", raw)
    assert env_bool("BREWLOG_X", not value) is value


def test_yes_or_no_has_a_default(monkeypatch):
    assert env_bool("BREWLOG_X", True) is True
    assert env_bool("BREWLOG_X", False) is False


def test_neither_yes_nor_no_is_refused_by_name(monkeypatch):
    monkeypatch.setenv("BREWLOG_X", "maybe")
    with pytest.raises(ImproperlyConfigured, match="BREWLOG_X is 'maybe'. Write yes or no."):
        env_bool("BREWLOG_X", False)


def test_a_list_is_split_at_commas_and_blanks_left_out(monkeypatch):
    assert env_list("BREWLOG_X", ["a"]) == ["a"]
    monkeypatch.setenv("BREWLOG_X", " brewery.example , ,192.0.2.7,")
    assert env_list("BREWLOG_X", ["a"]) == ["brewery.example", "192.0.2.7"]


def test_a_folder_is_made_where_it_is_missing(monkeypatch, tmp_path):
    monkeypatch.setenv("BREWLOG_X", str(tmp_path / "a" / "b"))
    assert env_folder("BREWLOG_X", tmp_path) == tmp_path / "a" / "b"
    assert (tmp_path / "a" / "b").is_dir()


def test_an_empty_folder_name_is_not_the_working_folder(monkeypatch, tmp_path):
    monkeypatch.setenv("BREWLOG_X", "")
    assert env_folder("BREWLOG_X", tmp_path) == tmp_path


def test_a_folder_in_the_home_is_found(monkeypatch, tmp_path):
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("BREWLOG_X", "~/records")
    assert env_folder("BREWLOG_X", Path("unused")) == tmp_path / "records"


def test_a_file_is_no_folder(monkeypatch, tmp_path):
    (tmp_path / "taken").write_text("")
    monkeypatch.setenv("BREWLOG_X", str(tmp_path / "taken"))
    with pytest.raises(ImproperlyConfigured, match="cannot be used as a folder"):
        env_folder("BREWLOG_X", tmp_path)


def test_a_folder_nothing_can_be_written_to_is_refused(monkeypatch):
    # /proc takes no files, not even from the administrator.
    monkeypatch.setenv("BREWLOG_X", "/proc")
    with pytest.raises(ImproperlyConfigured, match="Name a folder that can be written to."):
        env_folder("BREWLOG_X", Path("unused"))


def test_a_secret_is_made_once_and_kept_for_its_owner_only(tmp_path):
    keep_in = tmp_path / "secret-key"
    made = env_secret("BREWLOG_X", keep_in)
    assert len(made) >= 48
    assert env_secret("BREWLOG_X", keep_in) == made
    assert stat.S_IMODE(keep_in.stat().st_mode) == 0o600


def test_two_breweries_have_two_secrets(tmp_path):
    assert env_secret("BREWLOG_X", tmp_path / "a") != env_secret("BREWLOG_X", tmp_path / "b")


def test_a_secret_given_is_used_and_not_kept(monkeypatch, tmp_path):
    monkeypatch.setenv("BREWLOG_X", "s" * 32)
    assert env_secret("BREWLOG_X", tmp_path / "secret-key") == "s" * 32
    assert not (tmp_path / "secret-key").exists()


def test_a_short_secret_is_refused_without_repeating_it(monkeypatch, tmp_path):
    monkeypatch.setenv("BREWLOG_X", "hunter2")
    with pytest.raises(ImproperlyConfigured, match="BREWLOG_X is too short") as refusal:
        env_secret("BREWLOG_X", tmp_path / "secret-key")
    assert "hunter2" not in str(refusal.value)


def test_a_damaged_secret_is_named_with_what_to_do(tmp_path):
    (tmp_path / "secret-key").write_text("")
    with pytest.raises(ImproperlyConfigured, match="is damaged. Remove that file"):
        env_secret("BREWLOG_X", tmp_path / "secret-key")
