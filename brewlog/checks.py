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


@register(Tags.database)
def sqlite_queues_its_writers(app_configs: Any, **kwargs: Any) -> list[CheckMessage]:
    """Without IMMEDIATE, two writers that read first fail instead of queueing."""
    database = settings.DATABASES["default"]
    if database["ENGINE"] != "django.db.backends.sqlite3":
        return []
    if database.get("OPTIONS", {}).get("transaction_mode") == "IMMEDIATE":
        return []
    return [Error("SQLite needs transaction_mode IMMEDIATE.", id="brewlog.E003")]


@register(Tags.database)
def history_is_on(app_configs: Any, **kwargs: Any) -> list[CheckMessage]:
    if getattr(settings, "SIMPLE_HISTORY_ENABLED", True) and not settings.DATABASES["default"].get(
        "ATOMIC_REQUESTS"
    ):
        return []
    return [
        Error(
            "History must be on and ATOMIC_REQUESTS off: recording() is the transaction.",
            id="brewlog.E004",
        )
    ]


def _own_models() -> list[type[models.Model]]:
    return [
        model
        for model in apps.get_models()
        if model._meta.app_label in {"brewlog", "compliance"}
        and not model.__name__.startswith("Historical")
    ]
