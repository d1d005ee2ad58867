import gc

from django.apps import AppConfig
from django.db.models.signals import post_migrate


class BrewlogConfig(AppConfig):
    name = "brewlog"
    verbose_name = "Production records"

    def ready(self) -> None:
        # A recall or an export holds records by the hundred thousand, in no circles. At Python's
        # own measure all of them are looked through for garbage over and over: a quarter of the
        # time that a recall packet took.
        gc.set_threshold(50_000, 20, 50)
        from brewlog import checks  # noqa: F401  registers the system checks
        from brewlog.roles import ensure_roles

        post_migrate.connect(ensure_roles, sender=self)
