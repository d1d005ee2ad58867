"""The four roles as groups, made again after every migration so that they cannot drift."""

from __future__ import annotations

from typing import Any

PERMISSIONS = {
    "operator": {"record_production", "read_records"},
    "reviewer": {"record_production", "review_lots", "read_records"},
    "manager": {"record_production", "review_lots", "manage_brewery", "read_records"},
    "inspector": {"read_records"},
}


def ensure_roles(**signal: Any) -> None:
    """Make each role's group hold exactly its permissions."""
    from django.apps import apps
    from django.contrib.auth.management import create_permissions

    config = apps.get_app_config("brewlog")
    # Our handler may run before the one that makes permissions.
    create_permissions(config, verbosity=0, using=signal.get("using", "default"))
    group_model = apps.get_model("auth", "Group")
    permission_model = apps.get_model("auth", "Permission")
    for role, codenames in PERMISSIONS.items():
        group, _ = group_model.objects.get_or_create(name=role)
        group.permissions.set(
            permission_model.objects.filter(
                content_type__app_label="brewlog",
                content_type__model="brewery",
                codename__in=codenames,
            )
        )
