from django.apps import AppConfig


class ComplianceConfig(AppConfig):
    name = "compliance"
    verbose_name = "Limits, review and documents"

    def ready(self) -> None:
        from brewlog.domain.lots import FURTHER_BLOCKS
        from compliance.domain.watch import critical_blocks

        if critical_blocks not in FURTHER_BLOCKS:
            FURTHER_BLOCKS.append(critical_blocks)
