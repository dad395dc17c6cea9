"""The compliance floor."""

from django.apps import AppConfig


class ComplianceConfig(AppConfig):
    name = "compliance"

    def ready(self) -> None:
        from compliance.pages import owed, panels
        from inventory.pages.panels import PANELS
        from shop.pages.owed import PROVIDERS

        PROVIDERS.append(owed.owed)
        PANELS.extend(panels.ALL)
