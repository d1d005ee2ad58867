"""The brewery's logo, as it is kept: small, a picture and nothing else, under its own name.

What was sent is drawn anew, so that nothing else in the file (places, comments, programs) comes
along. The name tells the content: a picture that papers were printed with is never written over.
"""

from __future__ import annotations

import hashlib
import io
from functools import lru_cache

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.core.files.uploadedfile import UploadedFile
from PIL import Image, ImageOps, UnidentifiedImageError

from brewlog.recording import Refused

# Sharp at 300 dpi on the 50 mm that papers give it at most.
MOST_PIXELS_A_SIDE = 600
# More than this is no logo, and could fill the memory when it is unpacked.
MOST_PIXELS_SENT = 50_000_000
LEAST_PIXELS_A_SIDE = 40


def as_logo(sent: UploadedFile) -> ContentFile:
    """The picture as a PNG of at most 600 by 600 pixels, its empty edges cut off.

    Raises `Refused` for what is not a PNG or a JPEG, is too small to print, or far too large.
    """
    try:
        with Image.open(sent, formats=("PNG", "JPEG")) as picture:
            _refuse_size(picture.width, picture.height)
            drawn = ImageOps.exif_transpose(picture).convert("RGBA")
    except (UnidentifiedImageError, OSError, SyntaxError, ValueError):
        raise _refused("is not a picture that can be read. Send a PNG or a JPEG") from None
    drawn = _without_edges(drawn)
    drawn.thumbnail((MOST_PIXELS_A_SIDE, MOST_PIXELS_A_SIDE), Image.Resampling.LANCZOS)
    kept = io.BytesIO()
    is_opaque = drawn.getchannel("A").getextrema() == (255, 255)
    clean = Image.new("RGB" if is_opaque else "RGBA", drawn.size)
    clean.paste(drawn)
    clean.save(kept, "PNG", optimize=True)
    content = kept.getvalue()
    return ContentFile(content, name=f"{hashlib.sha256(content).hexdigest()[:32]}.png")


def _refuse_size(width: int, height: int) -> None:
    if width * height > MOST_PIXELS_SENT:
        raise _refused(f"has {width} by {height} pixels, more than are printed. Send fewer")
    if min(width, height) < LEAST_PIXELS_A_SIDE:
        raise _refused(f"has {width} by {height} pixels, too few to print. Send a larger one")


def _refused(why: str) -> Refused:
    return Refused({"logo": f"The file {why}."})


def _without_edges(picture: Image.Image) -> Image.Image:
    """Cut off what is empty around it, where it is transparent."""
    around = picture.getchannel("A").getbbox()
    if around is None:
        raise _refused("is wholly transparent: nothing of it would be seen. Send another")
    return picture.crop(around)


def logo_bytes(name: str) -> bytes:
    """A kept logo by its name; nothing where there is none, or its file is gone."""
    if not name or not default_storage.exists(name):
        return b""
    return _read(name)


@lru_cache(maxsize=8)
def _read(name: str) -> bytes:
    with default_storage.open(name, "rb") as file:
        return file.read()


def logo_within(name: str, width: float, height: float) -> tuple[float, float]:
    """How wide and high the logo is at its largest in so much room; 0, 0 where there is none."""
    content = logo_bytes(name)
    if not content:
        return 0.0, 0.0
    with Image.open(io.BytesIO(content)) as picture:
        scale = min(width / picture.width, height / picture.height)
        return picture.width * scale, picture.height * scale
