"""Who may open what. Everyone is logged in already (the middleware sees to that)."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse

from brewlog.entries.base import MANAGE, RECORD, REVIEW

READ = "brewlog.read_records"

_WHO = {
    READ: "Your account has no role yet. Ask the manager to give you one.",
    RECORD: "Recording is for operators, reviewers and managers. You can read every record.",
    REVIEW: "This is for reviewers and managers.",
    MANAGE: "This is for managers.",
}


def require(request: HttpRequest, permission: str) -> None:
    """Raise `PermissionDenied`, in words, where the person may not."""
    if not request.user.has_perm(permission):
        raise PermissionDenied(_WHO[permission])


def needs(permission: str) -> Callable:
    """A view only for those who hold the permission."""

    def decorate(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
        @wraps(view)
        def checked(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            require(request, permission)
            return view(request, *args, **kwargs)

        return checked

    return decorate
