"""Files chosen for a form that could not be recorded yet: kept, and named in the form again.

A browser does not put a file back into a form. What was chosen is kept for a day beside the
uploads to be looked at, and the form that is shown again holds a signed reference to it, as
hidden as its token. So it goes along with what was typed, also when the person changes.
Nothing of it is a record until the form is recorded.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django import forms
from django.core import signing
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpRequest

from brewlog.forms.uploads import check_upload
from brewlog.importing import keeping

# What a field's name ends with in the form: its reference, and the tick that leaves it out.
REFERENCE, LEFT_OUT = "-chosen", "-left-out"
_SALT = "file chosen for a form"
_KIND = "chosen"
# Nobody owns it: whoever holds the signed reference was shown the form.
_NOBODY = 0
# The largest file that any form takes.
_MOST_BYTES = 20 * 1024 * 1024


@dataclass(frozen=True)
class Chosen:
    """A file kept for a form: its name, and the reference that finds it."""

    name: str
    reference: str


class _Kept(SimpleUploadedFile):
    """A file that came back from what was kept."""

    reference = ""


def bring_back(request: HttpRequest) -> dict[str, str]:
    """Put the files kept for this form among those sent. In words, by field, what was kept too
    long ago; a file chosen anew takes the place of the kept one."""
    lost = {}
    for name, reference in _references(request):
        if name in request.FILES or request.POST.get(f"{name}{LEFT_OUT}"):
            continue
        file = _found(reference)
        if file is None:
            lost[name] = "The file is not kept any more: choose it again, or send without it."
        else:
            _files(request)[name] = file
    return lost


def keep(request: HttpRequest, shown: Iterable[forms.Form]) -> None:
    """Keep the files sent for forms that are shown again, but for those that cannot be taken."""
    for form in shown:
        kept: dict[str, Chosen] = {}
        for bound in form:
            file: Any = request.FILES.get(bound.html_name)
            if isinstance(bound.field, forms.FileField) and file and _is_sound(bound, file):
                kept[bound.html_name] = Chosen(file.name, _reference_to(file))
        form.chosen = kept  # type: ignore[attr-defined]


def chosen_for(bound: forms.BoundField) -> Chosen | None:
    """The file kept for a field of a form that is shown again."""
    kept: dict[str, Chosen] = getattr(bound.form, "chosen", {})
    return kept.get(bound.html_name)


def carried(request: HttpRequest) -> list[tuple[str, str]]:
    """The fields that stand for the files of a form whose form is not at hand."""
    bring_back(request)
    return [
        (f"{name}{REFERENCE}", _reference_to(file))
        for name, file in _files(request).items()
        if file.size <= _MOST_BYTES
    ]


def forget(request: HttpRequest) -> None:
    """Throw away what was kept for a form that is recorded now."""
    for _, reference in _references(request):
        token = _token(reference)
        if token:
            keeping.forget(token)


def _references(request: HttpRequest) -> list[tuple[str, str]]:
    return [
        (name.removesuffix(REFERENCE), str(value))
        for name, value in request.POST.items()
        if name.endswith(REFERENCE)
    ]


def _files(request: HttpRequest) -> Any:
    return request.FILES


def _is_sound(bound: forms.BoundField, file: Any) -> bool:
    """Whether the field takes the file; a form shown unchecked has not said so yet."""
    if bound.form.is_bound:
        return not bound.errors
    try:
        check_upload(file)
    except ValidationError:
        return False
    return True


def _reference_to(file: Any) -> str:
    if isinstance(file, _Kept):
        return file.reference
    file.seek(0)
    content = [(file.name, file.read())]
    file.seek(0)
    about = {"kind": _KIND, "type": file.content_type or ""}
    token = keeping.keep(owner_id=_NOBODY, name=file.name, files=content, found=about)
    return signing.dumps(token, salt=_SALT)


def _token(reference: str) -> str:
    try:
        return str(signing.loads(reference, salt=_SALT))
    except signing.BadSignature:
        return ""


def _found(reference: str) -> _Kept | None:
    kept = keeping.find(_token(reference), _NOBODY)
    if kept is None or kept.found.get("kind") != _KIND:
        return None
    ((name, content),) = kept.files
    file = _Kept(name, content, kept.found["type"])
    file.reference = reference
    return file
