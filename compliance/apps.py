"""The compliance floor."""

from django.apps import AppConfig


class ComplianceConfig(AppConfig):
    name = "compliance"

    def ready(self) -> None:
        from compliance.documents import stored
        from compliance.due import mailing
        from compliance.pages import falling, finding, owed, panels
        from inventory.pages.panels import PANELS
        from shop.pages.finding import MORE, MORE_WAYS
        from shop.pages.owed import PROVIDERS
        from shop.people.privacy import MORE_OF_PERSON, MORE_OF_VISIT

        MORE_OF_PERSON.extend((mailing.stored_of, stored.of_person))
        MORE_OF_VISIT.append(stored.of_visit)
        PROVIDERS.extend((falling.owed, owed.owed))
        PANELS.extend(panels.ALL)
        MORE.append(finding.documents)
        MORE_WAYS.append(finding.verify_it)
