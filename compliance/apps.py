"""The compliance floor."""

from django.apps import AppConfig


class ComplianceConfig(AppConfig):
    name = "compliance"

    def ready(self) -> None:
        from compliance.pages import closing, owed
        from compliance.pages.views import documents, links, matching
        from compliance.pages.views import findings as finding_pages
        from inventory.pages.panels import PANELS
        from shop.visits.owed import PROVIDERS

        PROVIDERS.append(owed.owed)
        PANELS.extend((finding_pages.panel, documents.panel, closing.panel, links.panel, matching.panel))
