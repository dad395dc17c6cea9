"""The compliance floor."""

from collections.abc import Sequence
from typing import Any

from django.apps import AppConfig, apps
from django.db.models.signals import post_migrate, pre_migrate


class ComplianceConfig(AppConfig):
    name = "compliance"

    def ready(self) -> None:
        from compliance.documents import stored
        from compliance.due import mailing
        from compliance.findings import visits
        from compliance.pages import falling, finding, owed, panels
        from compliance.rules import beforehand
        from inventory.pages.panels import PANELS
        from shop.pages.finding import MORE, MORE_WAYS
        from shop.pages.owed import NOTES, PROVIDERS
        from shop.people.privacy import FORGETTING, MORE_OF_PERSON, MORE_OF_VISIT
        from shop.visits.doubts import RULES_OF_CHARGES

        for floor in (apps.get_app_config("inventory"), self):  # whichever of the tables is made anew
            pre_migrate.connect(_nothing_noticed, sender=floor)
            post_migrate.connect(_noticing, sender=floor)
        MORE_OF_PERSON.extend((mailing.stored_of, stored.of_person))
        MORE_OF_VISIT.append(stored.of_visit)
        FORGETTING.append(visits.forget)
        RULES_OF_CHARGES.append(beforehand.of_charge)
        PROVIDERS.extend((falling.owed, owed.owed))
        NOTES.append(owed.counted)
        PANELS.extend(panels.ALL)
        MORE.append(finding.documents)
        MORE_WAYS.append(finding.verify_it)


def _nothing_noticed(*, plan: Sequence[Any] = (), using: str = "default", **_: Any) -> None:
    from compliance.findings import noticing

    if plan:
        noticing.remove(using)


def _noticing(*, using: str = "default", **_: Any) -> None:
    from compliance.findings import noticing

    noticing.install(using)
