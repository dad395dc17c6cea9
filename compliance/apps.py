"""The compliance floor."""

from django.apps import AppConfig


class ComplianceConfig(AppConfig):
    name = "compliance"

    def ready(self) -> None:
        from compliance.due import mailing
        from compliance.pages import falling, finding, owed, panels
        from inventory.pages.panels import PANELS
        from shop.pages.finding import MORE, MORE_WAYS
        from shop.pages.owed import PROVIDERS
        from shop.people.privacy import MORE_OF_PERSON

        MORE_OF_PERSON.append(mailing.stored_of)
        PROVIDERS.extend((falling.owed, owed.owed))
        PANELS.extend(panels.ALL)
        MORE.append(finding.documents)
        MORE_WAYS.append(finding.verify_it)
