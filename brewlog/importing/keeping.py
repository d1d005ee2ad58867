"""Uploads kept between the look and the word to go on: the very bytes that were shown.

They stand in a folder of their own under the data folder, for a day, and are read back
only by the person who sent them.
"""

from __future__ import annotations

import json
import re
import secrets
import shutil
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.conf import settings

from brewlog.importing.reading import Source, read_files

_TOKEN = re.compile(r"[A-Za-z0-9_-]{22}")
_ABOUT = "about.json"
_KEPT_SECONDS = 24 * 60 * 60


@dataclass(frozen=True)
class Kept:
    """An upload: its files by name, and what the look at it found (plain data)."""

    token: str
    name: str
    files: list[tuple[str, bytes]]
    found: dict[str, Any]

    def source(self) -> Source:
        """The files, read."""
        return read_files(self.name, self.files)


def _folder() -> Path:
    return Path(settings.DATA_DIR) / "imports"


def keep(*, owner_id: int, name: str, files: list[tuple[str, bytes]], found: dict[str, Any]) -> str:
    """Keep an upload. Returns the token that finds it again."""
    forget_old()
    token = secrets.token_urlsafe(16)
    folder = _folder() / token
    folder.mkdir(parents=True, mode=0o700)
    # Names come from outside: on the disk each file has a number instead.
    for number, (_, content) in enumerate(files):
        (folder / str(number)).write_bytes(content)
    about = {
        "owner": owner_id,
        "name": name,
        "files": [file_name for file_name, _ in files],
        "found": found,
    }
    (folder / _ABOUT).write_text(json.dumps(about), encoding="utf-8")
    return token


def find(token: str, owner_id: int) -> Kept | None:
    """The upload, if it is there and this person's."""
    folder = _folder() / token
    if not _TOKEN.fullmatch(token) or not (folder / _ABOUT).is_file():
        return None
    about = json.loads((folder / _ABOUT).read_text(encoding="utf-8"))
    if about["owner"] != owner_id:
        return None
    files = [
        (file_name, (folder / str(number)).read_bytes())
        for number, file_name in enumerate(about["files"])
    ]
    return Kept(token, about["name"], files, about["found"])


def forget(token: str) -> None:
    """Throw an upload away."""
    if _TOKEN.fullmatch(token):
        shutil.rmtree(_folder() / token, ignore_errors=True)


def forget_old() -> None:
    """Throw away what nobody came back for."""
    if not _folder().is_dir():
        return
    for folder in _folder().iterdir():
        if time.time() - folder.stat().st_mtime > _KEPT_SECONDS:
            forget(folder.name)
