"""Settings read from environment variables, each with a type.

A value that cannot be read stops the program at start with a sentence that
names the variable, what was found and what is expected.
"""

from __future__ import annotations

import os
import secrets
from pathlib import Path

from django.core.exceptions import ImproperlyConfigured

_TRUE = {"1", "true", "yes", "on"}
_FALSE = {"0", "false", "no", "off"}


def env_text(name: str, default: str) -> str:
    """The variable as text; `default` where it is not set."""
    return os.environ.get(name, default)


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


def env_int(name: str, default: int) -> int:
    """The variable as a whole number."""
    raw = os.environ.get(name)
    if raw is None:
        return default
    try:
        return int(raw)
    except ValueError:
        raise ImproperlyConfigured(f"{name} is '{raw}'. Write a whole number.") from None


def env_list(name: str, default: list[str]) -> list[str]:
    """The variable as a comma-separated list, blanks left out."""
    raw = os.environ.get(name)
    if raw is None:
        return default
    return [item.strip() for item in raw.split(",") if item.strip()]


def env_folder(name: str, default: Path) -> Path:
    """The variable as a folder that can be written to; it is made if missing."""
    folder = Path(os.environ.get(name, default)).expanduser().resolve()
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise ImproperlyConfigured(
            f"{name} is '{folder}', which cannot be used as a folder ({error.strerror})."
        ) from error
    return folder


def env_secret(name: str, keep_in: Path) -> str:
    """The variable, or a secret made once and kept in the file `keep_in`.

    One-PC breweries should not have to invent a key; the file is readable by
    its owner only, so that a copied database does not carry the key with it.
    """
    raw = os.environ.get(name)
    if raw is not None:
        if len(raw) < 32:
            raise ImproperlyConfigured(f"{name} is too short. Use at least 32 random characters.")
        return raw
    if not keep_in.exists():
        descriptor = os.open(keep_in, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(descriptor, "w") as file:
            file.write(secrets.token_urlsafe(48))
    return keep_in.read_text().strip()
