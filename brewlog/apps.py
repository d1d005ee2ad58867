from django.apps import AppConfig
from django.db.models.signals import post_migrate


class BrewlogConfig(AppConfig):
    name = "brewlog"
    verbose_name = "Production records"

    def ready(self) -> None:
        from brewlog import checks  # noqa: F401  registers the system checks
        from brewlog.roles import ensure_roles

        post_migrate.connect(ensure_roles, sender=self)
