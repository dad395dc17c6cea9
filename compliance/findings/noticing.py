"""Triggers that notice which records have changed since they were judged: a queue in the database itself.

They stand on the tables that facts are read from beside the lines of the book, whose numbers tell what is new by
themselves. A row of the queue names a visit, a vehicle by its account, or `people`, `shelf` or `workshop` as a whole.
They are put in place after any migration and taken off before one, as the guards of the book are.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from django.db import connections, transaction

from inventory.book import guards

VISIT, VEHICLE, PEOPLE, SHELF, WORKSHOP = "visit", "vehicle", "people", "shelf", "workshop"
QUEUE = "compliance_noticed"
NEW, OLD, BOTH = "INSERT", "DELETE", "UPDATE"

_OF_BOOK = "SELECT {row}.book_id, '{kind}', 0"
_OF_ACCOUNT = "SELECT a.book_id, '{kind}', 0 FROM inventory_account a WHERE a.id = {row}.account_id"
_OF_CYLINDER = (
    "SELECT a.book_id, '{kind}', 0 FROM inventory_cylinder c JOIN inventory_account a ON a.id = c.account_id "
    "WHERE c.id = {row}.cylinder_id"
)
_OF_PARTNER = (
    "SELECT a.book_id, '{kind}', 0 FROM inventory_partner p JOIN inventory_account a ON a.id = p.account_id "
    "WHERE p.id = {row}.partner_id"
)
_OF_MEMBER = "SELECT w.book_id, '{kind}', 0 FROM shop_workshop w WHERE w.id = {row}.workshop_id"
_OF_USER = (
    "SELECT w.book_id, '{kind}', 0 FROM shop_membership m JOIN shop_workshop w ON w.id = m.workshop_id "
    "WHERE m.user_id = {row}.{user}"
)
_OF_VISIT = "SELECT w.book_id, '{kind}', {row}.id FROM shop_workshop w WHERE w.id = {row}.workshop_id"
_OF_STEP = (
    "SELECT w.book_id, '{kind}', v.id FROM shop_visit v JOIN shop_workshop w ON w.id = v.workshop_id "
    "WHERE v.id = {row}.visit_id"
)
_OF_VEHICLE = "SELECT a.book_id, '{kind}', a.id FROM inventory_account a WHERE a.id = {row}.account_id"
_OF_VEHICLE_BEFORE = (
    "SELECT a.book_id, '{kind}', a.id FROM shop_vehicle c JOIN inventory_account a ON a.id = c.account_id "
    "WHERE c.id = OLD.vehicle_id AND OLD.vehicle_id <> {row}.vehicle_id"
)
_OF_JOINED = (
    "SELECT {row}.book_id, '{kind}', a.id FROM inventory_account a "
    "WHERE a.id IN ({row}.id, {row}.joined_to_id, OLD.joined_to_id)"
)


@dataclass(frozen=True)
class _Noticed:
    """What is noticed of a table: at which events, and which row of the queue it makes."""

    table: str
    events: tuple[str, ...]
    kind: str
    select: str
    columns: str = ""  # of an update; any where empty


_WATCHED = (
    _Noticed("shop_workshop", (BOTH,), WORKSHOP, _OF_BOOK),
    _Noticed("shop_membership", (NEW, BOTH, OLD), PEOPLE, _OF_MEMBER),
    _Noticed("shop_certification", (NEW, BOTH, OLD), PEOPLE, _OF_USER.replace("{user}", "user_id")),
    _Noticed("shop_user", (BOTH,), WORKSHOP, _OF_USER.replace("{user}", "id"), "handle"),
    _Noticed("shop_visit", (NEW, BOTH), VISIT, _OF_VISIT),
    _Noticed("shop_visit", (BOTH,), VEHICLE, _OF_VEHICLE_BEFORE, "vehicle_id"),
    _Noticed("shop_step", (NEW, BOTH), VISIT, _OF_STEP),
    _Noticed("shop_vehicle", (BOTH,), VEHICLE, _OF_VEHICLE),
    _Noticed("inventory_account", (BOTH,), VEHICLE, _OF_JOINED, "joined_to_id"),
    _Noticed("inventory_cylinder", (NEW, BOTH), SHELF, _OF_ACCOUNT),
    _Noticed("inventory_tare", (NEW, BOTH), SHELF, _OF_CYLINDER),
    _Noticed("inventory_analysis", (NEW, BOTH, OLD), SHELF, _OF_ACCOUNT),
    _Noticed("inventory_scale", (NEW, BOTH), SHELF, _OF_BOOK),
    _Noticed("inventory_gauge", (NEW, BOTH, OLD), SHELF, _OF_BOOK),
    _Noticed("inventory_consignment", (NEW, BOTH), SHELF, _OF_CYLINDER),
    _Noticed("inventory_partner", (BOTH,), SHELF, _OF_ACCOUNT),
    _Noticed("inventory_partnerlist", (NEW, BOTH), SHELF, _OF_PARTNER),
)


@dataclass(frozen=True)
class _Trigger:
    name: str
    table: str
    sql: tuple[str, ...]


def _triggers(vendor: str) -> Iterator[_Trigger]:
    for one in _WATCHED:
        for event in one.events:
            name = f"notice_{one.table}_{one.kind}_{event}".lower()
            row = "OLD" if event == OLD else "NEW"
            what = one.select.format(kind=one.kind, row=row)
            insert = f"INSERT INTO {QUEUE} (book, kind, record) {what}"  # noqa: S608 - our names
            of = f" OF {one.columns}" if one.columns and event == BOTH else ""
            begin = f"CREATE TRIGGER {name} AFTER {event}{of} ON {one.table} FOR EACH ROW"
            if vendor == "sqlite":
                yield _Trigger(name, one.table, (f"{begin} BEGIN {insert}; END",))
            else:
                function = f"CREATE OR REPLACE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$"
                body = f"{function} BEGIN {insert}; RETURN NULL; END $$"
                yield _Trigger(name, one.table, (body, f"{begin} EXECUTE FUNCTION {name}()"))


def _in_catalogue(using: str) -> list[tuple[str, str]]:
    """Return name and table of each that the database has and that fires."""
    connection = connections[using]
    sql = (
        "SELECT name, tbl_name FROM sqlite_master WHERE type = 'trigger'"
        if connection.vendor == "sqlite"
        else "SELECT tgname, relname FROM pg_trigger JOIN pg_class ON pg_class.oid = tgrelid WHERE tgenabled <> 'D'"
    )
    with connection.cursor() as cursor:
        cursor.execute(sql)
        return [(name, table) for name, table in cursor.fetchall() if name.startswith("notice_")]


def remove(using: str = "default") -> None:
    """Take all of them off; for migrations and for emptying a test database."""
    guards.drop(using, _in_catalogue(using))


def install(using: str = "default") -> None:
    """Put them in place as they are written here, once all their tables are there."""
    connection = connections[using]
    tables = set(connection.introspection.table_names())
    with transaction.atomic(using=using), connection.cursor() as cursor:
        remove(using)
        if {QUEUE, *(one.table for one in _WATCHED)} <= tables:
            for one in _triggers(connection.vendor):
                for sql in one.sql:
                    cursor.execute(sql)


def missing(using: str = "default") -> list[str]:
    """Return the names of those that should be there and are not."""
    there = {name for name, _ in _in_catalogue(using)}
    return [one.name for one in _triggers(connections[using].vendor) if one.name not in there]
