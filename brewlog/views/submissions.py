"""Each rendered form is recorded once, however often it is sent.

A token stands hidden in the form. It is kept, with a digest of what was typed and the
page it led to, in the same transaction as the record.
"""

from __future__ import annotations

import hashlib
import secrets
from dataclasses import dataclass
from typing import Any

from brewlog.middleware import BreweryRequest
from brewlog.models import SubmittedForm, User

TOKEN_FIELD = "form_token"
# A password or a PIN is never kept, not even digested.
_NOT_DIGESTED = {"csrfmiddlewaretoken", TOKEN_FIELD, "password", "current", "pin", "again"}


def new_token() -> str:
    """A token for a form about to be shown."""
    return secrets.token_urlsafe(18)


@dataclass(frozen=True)
class Sending:
    """A form as it was sent: its token, and a digest of who sent what to where."""

    token: str
    digest: str


def sending_of(request: BreweryRequest, prefix: str = "") -> Sending:
    """What was sent; with a prefix, of the one row whose fields begin with it.

    A form without a token (a page of long ago) gets a new one.
    """
    digest = hashlib.sha256(f"{request.user.pk} {request.path}".encode())
    for name in sorted(request.POST):
        if name.startswith(prefix) and name.removeprefix(prefix) not in _NOT_DIGESTED:
            digest.update(repr((name, request.POST.getlist(name))).encode())
    for name in sorted(request.FILES):
        file: Any = request.FILES[name]
        digest.update(repr((name, file.name, file.size)).encode())
    token = request.POST.get(f"{prefix}{TOKEN_FIELD}", "")
    known_shape = 16 <= len(token) <= 40 and token.isascii()
    return Sending(token if known_shape else new_token(), digest.hexdigest())


def earlier_sending(sending: Sending) -> SubmittedForm | None:
    """What the same form led to before; None where it is sent for the first time."""
    return SubmittedForm.objects.filter(token=sending.token).first()


def remember(sending: Sending, person: User, result_url: str) -> None:
    """Keep that the form was recorded. Call it inside the recording itself."""
    SubmittedForm.objects.create(
        token=sending.token, digest=sending.digest, sent_by=person, result_url=result_url
    )
