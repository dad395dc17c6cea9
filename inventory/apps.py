"""The inventory floor: the mass book and what stands on the shelf."""

from collections.abc import Sequence
from typing import Any

from django.apps import AppConfig
from django.core.checks import CheckMessage, Tags, register
from django.core.checks import Warning as Caution
from django.db import connections
from django.db.migrations.executor import MigrationExecutor
from django.db.models.signals import post_migrate, pre_migrate


class InventoryConfig(AppConfig):
    name = "inventory"

    def ready(self) -> None:
        pre_migrate.connect(_guards_off, sender=self)
        post_migrate.connect(_guards_on, sender=self)
        register(_guards_stand, Tags.database)


def _guards_off(*, plan: Sequence[Any] = (), using: str = "default", **_: Any) -> None:
    from inventory.book import guards

    if any(migration.app_label == "inventory" for migration, _backwards in plan):
        guards.remove(using)


def _guards_on(*, plan: Sequence[Any] = (), using: str = "default", **_: Any) -> None:
    from inventory.book import guards

    if not (plan and _is_behind(using)):
        guards.install(using)


def _is_behind(using: str) -> bool:
    """Whether the tables are older than the guards, which name columns of the newest."""
    executor = MigrationExecutor(connections[using])
    newest = [node for node in executor.loader.graph.leaf_nodes() if node[0] == "inventory"]
    return bool(executor.migration_plan(newest))


def _guards_stand(*, databases: Sequence[str] | None = None, **_: Any) -> list[CheckMessage]:
    from inventory.book import guards

    # Not an error: that would stop migrate, which puts the guards back.
    return [
        Caution(
            f"The guard {name} of the mass book is not in the database.", "migrate puts it back", id="inventory.W001"
        )
        for using in databases or []
        for name in guards.missing(using)
    ]
