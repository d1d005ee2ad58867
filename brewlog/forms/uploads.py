"""What may be kept as a file: papers and photographs, told by their content."""

from __future__ import annotations

from typing import Any

from django import forms
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
# By media type, so that a phone offers its camera too.
ACCEPT_PICTURES = "image/jpeg,image/png"
# What telephones save photographs as that many programs cannot show.
_PHONES_OWN = {"heic", "heif", "avif", "webp"}
EMPTY = "That file is empty. Choose it again, or send without it."


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
        raise ValidationError(f"{file.name} is not a PDF, a JPEG or a PNG. {_what_to_send(file)}")


def _what_to_send(file: UploadedFile) -> str:
    if ending_of(file.name or "") in _PHONES_OWN:
        return "Let the phone's camera save JPEG, or send a screenshot of the picture."
    return "Send one of these."


class PaperField(forms.FileField):
    """A certificate, a report, a sheet, kept with an entry; '' where none was chosen."""

    widget = forms.FileInput(attrs={"accept": ACCEPT})
    default_validators = [check_upload]
    default_error_messages = {"empty": EMPTY}

    def __init__(self, **options: Any) -> None:
        super().__init__(required=False, **options)

    def clean(self, data: Any, initial: Any = None) -> Any:
        return super().clean(data, initial) or ""


class PictureField(PaperField, forms.ImageField):
    """A photograph or a logo: a JPEG or a PNG that can be opened; '' where none was chosen."""

    widget = forms.FileInput(attrs={"accept": ACCEPT_PICTURES})
    default_validators = []
    default_error_messages = {
        "invalid_image": "That picture cannot be opened: it is damaged, or of another kind than "
        "its name says. Send a JPEG or a PNG."
    }

    def to_python(self, data: Any) -> Any:
        """What is too large or of no use is not opened at all."""
        if data and data.size:
            check_upload(data)
        return super().to_python(data)
