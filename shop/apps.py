"""The shop floor: people, vehicles and visits."""

from django.apps import AppConfig


class ShopConfig(AppConfig):
    name = "shop"

    def ready(self) -> None:
        from inventory.acts import UNDONE
        from shop.undone import follow

        UNDONE.append(follow)
