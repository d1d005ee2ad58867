"""Settings read from environment variables, each with a type.

A value that cannot be read stops the program at start with a sentence that
names the variable, what was found and what is expected.
"""

from __future__ import annotations

import os
import secrets
import tempfile
from contextlib import suppress
from pathlib import Path
from typing import TextIO

from django.core.exceptions import ImproperlyConfigured

_TRUE = {"1", "true", "yes", "on"}
_FALSE = {"0", "false", "no", "off"}
_SHORTEST_SECRET = 32


def env_text(name: str, default: str) -> str:
    """The variable as text; `default` where it is not set or empty."""
    return os.environ.get(name) or default


def env_bool(name: str, default: bool) -> bool:
    """The variable as yes or no."""
    raw = os.environ.get(name)
    if raw is None:
        return default
    word = raw.strip().lower()
    if word in _TRUE:
        return True
    if word in _FALSE:
        return False
    raise ImproperlyConfigured(f"{name} is '{raw}'. Write yes or no.")


def env_list(name: str, default: list[str]) -> list[str]:
    """The variable as a comma-separated list, blanks left out."""
    raw = os.environ.get(name)
    if raw is None:
        return default
    return [item.strip() for item in raw.split(",") if item.strip()]


def env_folder(name: str, default: Path) -> Path:
    """The variable as a folder that can be written to; it is made if missing."""
    folder = Path(os.environ.get(name) or default).expanduser().resolve()
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            pass
    except OSError as error:
        raise ImproperlyConfigured(
            f"{name} is '{folder}', which cannot be used as a folder ({error.strerror}). "
            "Name a folder that can be written to."
        ) from error
    return folder


def env_secret(name: str, keep_in: Path) -> str:
    """The variable, or a secret made once and kept in the file `keep_in`.

    One-PC breweries should not have to invent a key; the file is readable by
    its owner only, so that a copied database does not carry the key with it.
    """
    raw = os.environ.get(name)
    if raw is not None:
        if len(raw) < _SHORTEST_SECRET:
            raise ImproperlyConfigured(f"{name} is too short. Use at least 32 random characters.")
        return raw
    if not keep_in.exists():
        # Two programs may start at once: the first one's secret holds.
        with suppress(FileExistsError), _only_for_the_owner(keep_in) as file:
            file.write(secrets.token_urlsafe(48))
    kept = keep_in.read_text().strip()
    if len(kept) < _SHORTEST_SECRET:
        raise ImproperlyConfigured(
            f"The secret in {keep_in} is damaged. Remove that file, and everyone logs in again."
        )
    return kept


def _only_for_the_owner(file: Path) -> TextIO:
    return os.fdopen(os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w")
