"""The compliance floor."""

from django.apps import AppConfig


class ComplianceConfig(AppConfig):
    name = "compliance"

    def ready(self) -> None:
        from compliance import closing, findings
        from compliance.views.findings import panel
        from inventory.panels import PANELS
        from shop.owed import PROVIDERS

        PROVIDERS.append(findings.owed)
        PANELS.extend((panel, closing.panel))
