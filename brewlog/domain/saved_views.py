"""Keeping a way of looking at a list: named, renamed, offered to everyone, deleted.

A preference and no record: it has no history, and what is deleted is gone.
"""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.db.models import Q, QuerySet

from brewlog.models import SavedView, User
from brewlog.recording import Refused, recording

_MAY_MANAGE = "brewlog.manage_brewery"


def views_for(person: User) -> QuerySet[SavedView]:
    """The person's own views and those offered to everyone."""
    rows = SavedView.objects.filter(Q(owner=person.pk) | Q(is_shared=True))
    return rows.select_related("owner")


def save_view(
    *, actor: User, noun: str, name: str, query: str, is_shared: bool = False
) -> SavedView:
    """Keep a search, filters and an order of a list under a name."""
    if is_shared:
        _refuse_sharing(actor)
    with recording(actor):
        return _saved(
            SavedView(owner=actor, noun=noun, name=name, query=query, is_shared=is_shared)
        )


def rename_view(*, actor: User, view: SavedView, name: str) -> SavedView:
    """Give a view of one's own, or a manager a shared one, another name."""
    _refuse_others(actor, view)
    with recording(actor):
        view.name = name
        return _saved(view)


def share_view(*, actor: User, view: SavedView, is_shared: bool) -> SavedView:
    """Offer a view to everyone, or no longer. For managers."""
    _refuse_sharing(actor)
    with recording(actor):
        view.is_shared = is_shared
        return _saved(view)


def delete_view(*, actor: User, view: SavedView) -> None:
    """Do away with a view of one's own; a manager also with a shared one."""
    _refuse_others(actor, view)
    with recording(actor):
        view.delete()


def _saved(view: SavedView) -> SavedView:
    view.name = " ".join(view.name.split())
    if not view.name:
        raise Refused({"name": "Write a name for it."})
    try:
        view.full_clean()
    except ValidationError as error:
        # Whatever is wrong is mended by another name.
        raise Refused({"name": error.messages}) from None
    view.save()
    return view


def _refuse_sharing(actor: User) -> None:
    if not actor.has_perm(_MAY_MANAGE):
        raise Refused("Only a manager offers a view to everyone. Ask one of them.")


def _refuse_others(actor: User, view: SavedView) -> None:
    if view.owner_id != actor.pk and not (view.is_shared and actor.has_perm(_MAY_MANAGE)):
        raise Refused("That view is somebody else's.")
