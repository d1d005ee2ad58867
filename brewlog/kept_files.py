"""Files kept with the records, told by their contents."""

from __future__ import annotations

import hashlib
from typing import Any


def digest_of(file: Any) -> str:
    """SHA-256 of a file's bytes, in hexadecimal. It stands at its beginning afterwards."""
    file.seek(0)
    digest = hashlib.file_digest(file, "sha256").hexdigest()
    file.seek(0)
    return digest
