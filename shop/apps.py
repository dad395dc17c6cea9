"""The shop floor: people, vehicles and visits."""

from django.apps import AppConfig


class ShopConfig(AppConfig):
    name = "shop"
