from django.apps import AppConfig


class ComplianceConfig(AppConfig):
    name = "compliance"
    verbose_name = "Limits, review and documents"

    def ready(self) -> None:
        from compliance.joining import join

        join()
