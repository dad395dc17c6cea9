"""The compliance floor."""

from django.apps import AppConfig


class ComplianceConfig(AppConfig):
    name = "compliance"

    def ready(self) -> None:
        from compliance import closing, findings
        from compliance.views import documents, links, matching
        from compliance.views import findings as finding_pages
        from inventory.panels import PANELS
        from shop.owed import PROVIDERS

        PROVIDERS.append(findings.owed)
        PANELS.extend((finding_pages.panel, documents.panel, closing.panel, links.panel, matching.panel))
