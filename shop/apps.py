"""The shop floor: people, vehicles and visits."""

from django.apps import AppConfig


class ShopConfig(AppConfig):
    name = "shop"

    def ready(self) -> None:
        from inventory.acts.undoing import UNDONE
        from inventory.pages.panels import ASKED_OF_CHARGES, PANELS
        from shop.pages.weighhere import weigh_here
        from shop.visits.acts.entering import follow
        from shop.visits.doubts import late_charge_in_doubt

        UNDONE.append(follow)
        PANELS.append(weigh_here)
        ASKED_OF_CHARGES.append(late_charge_in_doubt)
