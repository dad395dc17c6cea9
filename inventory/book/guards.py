"""Triggers that make the book append-only in the database itself.

They only refuse, and read only their own table. They do not live in migrations: a rebuilt table on SQLite loses its
triggers in silence, so they are taken off before migrations that touch this app and put back after any.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db import connections, transaction

APPEND_ONLY = {  # each with its unique keys
    "inventory_entry": ("id", "book_id seq", "book_id request_key", "reverses_id"),
    "inventory_movement": ("id", "entry_id line"),
    "inventory_weighing": ("id", "entry_id line"),
}
KEPT = {
    "inventory_account": ("book_id", "number", "kind"),
    "inventory_scale": ("book_id", "number"),
    "inventory_book": ("uid",),
    "inventory_trace": ("id", "book_id", "seq", "model", "record", "content", "who", "at_ms", "digest"),
}
NOT_DELETED = ("inventory_account", "inventory_book", "inventory_scale", "inventory_trace")
REFUSAL = "the book is append-only"


@dataclass(frozen=True)
class Guard:
    """One trigger: its name, its table and the statement that makes it."""

    name: str
    table: str
    sql: str


def _differs(columns: Iterable[str], vendor: str) -> str:
    word = "IS NOT" if vendor == "sqlite" else "IS DISTINCT FROM"
    return " OR ".join(f"NEW.{column} {word} OLD.{column}" for column in columns)


# A book goes forward: its head and its closed day never go back. An empty closed day may be set. The digest at the head
# changes with its number alone.
_BACKWARDS = (
    "NEW.head_seq < OLD.head_seq OR (NEW.head_seq = OLD.head_seq AND NEW.head_digest <> OLD.head_digest) OR "
    "(OLD.closed_through IS NOT NULL AND "
    "(NEW.closed_through IS NULL OR NEW.closed_through < OLD.closed_through)) OR "
    "NEW.trace_seq < OLD.trace_seq OR (NEW.trace_seq = OLD.trace_seq AND NEW.trace_digest <> OLD.trace_digest)"
)

# What a trace says may be emptied, when personal data is removed; never said otherwise.
_OTHERWISE = "(NEW.said <> '' AND NEW.said <> OLD.said) OR (NEW.salt <> '' AND NEW.salt <> OLD.salt)"


def _guards(vendor: str) -> Iterable[Guard]:
    sqlite = vendor == "sqlite"

    def guard(table: str, what: str, event: str, when: str = "") -> Guard:
        name = f"guard_{table}_{what}"
        if sqlite:
            how = f"{f'WHEN {when} ' if when else ''}BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"
        else:
            each = "STATEMENT" if event == "TRUNCATE" else "ROW"
            how = f"FOR EACH {each} {f'WHEN ({when}) ' if when else ''}EXECUTE FUNCTION tarebook_refuse()"
        return Guard(name, table, f"CREATE TRIGGER {name} BEFORE {event} ON {table} {how}")

    for table in APPEND_ONLY:
        yield guard(table, "update", "UPDATE")
    for table in (*APPEND_ONLY, *NOT_DELETED):
        yield guard(table, "delete", "DELETE")
        if not sqlite:
            yield guard(table, "truncate", "TRUNCATE")
    for table, kept in KEPT.items():
        yield guard(table, "keep", "UPDATE", _differs(kept, vendor))
    yield guard("inventory_book", "forward", "UPDATE", _BACKWARDS)
    yield guard("inventory_trace", "said", "UPDATE", _OTHERWISE)
    if sqlite:  # INSERT OR REPLACE deletes without a delete trigger: refuse a second row under any unique key
        once = {**dict.fromkeys(NOT_DELETED, ("id",)), "inventory_trace": ("id", "book_id seq")}
        for table, keys in {**APPEND_ONLY, **once}.items():
            for columns in (key.split() for key in keys):
                same = " AND ".join(f"{column} = NEW.{column}" for column in columns)
                there = f"EXISTS (SELECT 1 FROM {table} WHERE {same})"  # noqa: S608 - our names
                yield guard(table, f"replace_{columns[-1]}", "INSERT", there)


_REFUSING_FUNCTION = f"""
CREATE OR REPLACE FUNCTION tarebook_refuse() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION '{REFUSAL}' USING ERRCODE = 'restrict_violation';
END $$
"""


def guards(using: str = "default") -> list[Guard]:
    """Return the guards of a database's kind."""
    return list(_guards(connections[using].vendor))


def _in_catalogue(using: str) -> list[tuple[str, str, bool]]:
    """Return name, table and whether it fires, of every trigger of ours that the database has."""
    connection = connections[using]
    sql = (
        "SELECT name, tbl_name, 1 FROM sqlite_master WHERE type = 'trigger' AND name LIKE 'guard_inventory%'"
        if connection.vendor == "sqlite"
        else "SELECT tgname, relname, tgenabled <> 'D' FROM pg_trigger JOIN pg_class ON pg_class.oid = tgrelid "
        "WHERE tgname LIKE 'guard_inventory%'"
    )
    with connection.cursor() as cursor:
        cursor.execute(sql)
        return [(name, table, bool(fires)) for name, table, fires in cursor.fetchall()]


def standing(using: str = "default") -> set[str]:
    """Return the names of our triggers that the database has and that fire."""
    return {name for name, _table, fires in _in_catalogue(using) if fires}


def missing(using: str = "default") -> list[str]:
    """Return the names of guards that should be there as written here and are not; a table not yet made needs none.

    On PostgreSQL a guard of the right name that fires is taken for the right one: its text there is another spelling.
    """
    tables = set(connections[using].introspection.table_names())
    there = standing(using) & _as_written(using)
    return [guard.name for guard in guards(using) if guard.table in tables and guard.name not in there]


def _as_written(using: str) -> set[str]:
    """Return the names of guards that do what is written here, as far as the database can say."""
    wanted = {guard.name: guard.sql for guard in guards(using)}
    connection = connections[using]
    if connection.vendor != "sqlite":
        return set(wanted)
    with connection.cursor() as cursor:
        cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
        return {name for name, sql in cursor.fetchall() if wanted.get(name) == sql}


def remove(using: str = "default") -> None:
    """Take all guards off; for migrations and for emptying a test database."""
    drop(using, [(name, table) for name, table, _fires in _in_catalogue(using)])


def drop(using: str, triggers: Iterable[tuple[str, str]]) -> None:
    """Drop triggers, each named with its table."""
    connection = connections[using]
    with connection.cursor() as cursor:
        for name, table in triggers:
            on_table = "" if connection.vendor == "sqlite" else f" ON {table}"
            cursor.execute(f"DROP TRIGGER {name}{on_table}")


def install(using: str = "default") -> None:
    """Put every guard in place whose table exists, as it is written here, in place of what an older version left."""
    connection = connections[using]
    tables = set(connection.introspection.table_names())
    with transaction.atomic(using=using), connection.cursor() as cursor:
        remove(using)
        if connection.vendor != "sqlite":
            cursor.execute(_REFUSING_FUNCTION)
        for guard in guards(using):
            if guard.table in tables:
                cursor.execute(guard.sql)
