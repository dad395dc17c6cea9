"""Whether the database is what this version of the code expects."""

from django.db import connection
from django.db.migrations.executor import MigrationExecutor


def waiting() -> list[str]:
    """Return the migrations that the database still lacks; raises DatabaseError where it does not answer."""
    executor = MigrationExecutor(connection)
    plan = executor.migration_plan(executor.loader.graph.leaf_nodes())
    return [str(migration) for migration, _ in plan]
