"""System checks that stop a setting or a model from undoing a ground rule."""

from __future__ import annotations

from typing import Any

from django.apps import apps
from django.conf import settings
from django.core.checks import CheckMessage, Error, Tags, register
from django.db import models


@register(Tags.models)
def every_link_is_protected(app_configs: Any, **kwargs: Any) -> list[CheckMessage]:
    """A record in use cannot be taken along by another's deletion."""
    return [
        Error(
            f"{model.__name__}.{field.name} is not PROTECT.",
            hint="Records are never deleted; use on_delete=models.PROTECT.",
            id="brewlog.E001",
        )
        for model in _own_models()
        for field in model._meta.get_fields()
        if isinstance(field, models.ForeignKey)
        and field.model is model
        and field.remote_field.on_delete is not models.PROTECT
    ]


@register(Tags.models)
def every_record_has_history(app_configs: Any, **kwargs: Any) -> list[CheckMessage]:
    """A record model without history would change without a trace."""
    from brewlog.models.base import Guarded
    from brewlog.models.lots import Lot

    return [
        Error(f"{model.__name__} has no history.", id="brewlog.E002")
        for model in _own_models()
        if issubclass(model, Guarded) and model is not Lot and not hasattr(model, "history")
    ]


# Not Tags.database: those checks run at `migrate` only, and a server starts without it.
@register()
def sqlite_queues_its_writers(app_configs: Any, **kwargs: Any) -> list[CheckMessage]:
    """Without IMMEDIATE, two writers that read first fail instead of queueing."""
    database = settings.DATABASES["default"]
    if database["ENGINE"] != "django.db.backends.sqlite3":
        return []
    if database.get("OPTIONS", {}).get("transaction_mode") == "IMMEDIATE":
        return []
    return [
        Error(
            "SQLite does not queue its writers.",
            hint="Set transaction_mode to IMMEDIATE in the database's OPTIONS.",
            id="brewlog.E003",
        )
    ]


@register()
def history_is_on(app_configs: Any, **kwargs: Any) -> list[CheckMessage]:
    """A change without a history row would leave no trace."""
    if getattr(settings, "SIMPLE_HISTORY_ENABLED", True):
        return []
    return [Error("History is off.", hint="Remove SIMPLE_HISTORY_ENABLED.", id="brewlog.E004")]


@register()
def requests_open_no_transaction(app_configs: Any, **kwargs: Any) -> list[CheckMessage]:
    """One would take the write lock for every page that is only looked at."""
    if not settings.DATABASES["default"].get("ATOMIC_REQUESTS"):
        return []
    return [
        Error(
            "ATOMIC_REQUESTS is on: recording() is the transaction.",
            hint="Turn it off.",
            id="brewlog.E005",
        )
    ]


@register(Tags.models)
def links_have_a_record_of_their_own(app_configs: Any, **kwargs: Any) -> list[CheckMessage]:
    """A many-to-many link changes without a history row of who changed it."""
    from brewlog.models.base import Guarded

    return [
        Error(
            f"{model.__name__}.{field.name} is many-to-many.",
            hint="Write a model of its own for the link, with its history.",
            id="brewlog.E006",
        )
        for model in _own_models()
        if issubclass(model, Guarded)
        for field in model._meta.local_many_to_many
    ]


def _own_models() -> list[type[models.Model]]:
    return [
        model
        for model in apps.get_models()
        if model._meta.app_label in {"brewlog", "compliance"}
        and not model.__name__.startswith("Historical")
    ]
