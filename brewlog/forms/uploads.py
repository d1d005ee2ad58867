"""What may be kept as a file: papers and photographs, told by their content."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile

MOST_BYTES = 10 * 1024 * 1024
# Ending -> media type and the bytes such a file begins with.
KINDS: dict[str, tuple[str, tuple[bytes, ...]]] = {
    "pdf": ("application/pdf", (b"%PDF-",)),
    "jpg": ("image/jpeg", (b"\xff\xd8\xff",)),
    "jpeg": ("image/jpeg", (b"\xff\xd8\xff",)),
    "png": ("image/png", (b"\x89PNG\r\n\x1a\n",)),
}
ACCEPT = ",".join(f".{ending}" for ending in KINDS)


def ending_of(name: str) -> str:
    """The ending of a file name, in small letters, without the dot."""
    return name.rpartition(".")[2].lower()


def check_upload(file: UploadedFile) -> None:
    """Raise `ValidationError` for what is too large or is not a PDF, a JPEG or a PNG."""
    if file.size is not None and file.size > MOST_BYTES:
        raise ValidationError(
            f"{file.name} is {file.size / 1024 / 1024:.0f} MB; at most "
            f"{MOST_BYTES // 1024 // 1024} MB are kept. Send a smaller copy."
        )
    media_type, openings = KINDS.get(ending_of(file.name or ""), ("", ()))
    file.seek(0)
    opening = file.read(16)
    file.seek(0)
    if not media_type or not opening.startswith(openings):
        raise ValidationError(f"{file.name} is not a PDF, a JPEG or a PNG. Send one of these.")
