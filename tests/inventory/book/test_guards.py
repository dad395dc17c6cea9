"""The database itself refuses: through the ORM, by plain SQL, by replacement, and after any migration."""

# ruff: noqa: S608 - the statements are made of our own table names

from collections.abc import Callable
from datetime import date

import pytest
from django.core.checks import run_checks
from django.db import DatabaseError, connection, migrations, models, transaction
from django.db.migrations.state import ProjectState
from django.db.models.signals import post_migrate, pre_migrate

from inventory.book import guards
from inventory.book.draft import Draft, Line, Reading
from inventory.models import Account, Book, Entry, Movement, Scale, Weighing
from tests.inventory.book.lines import undo_line

MARK = "the book is append-only"
KG = 1_000_000


@pytest.fixture
def written(book, cylinder, vehicle_account, scale, act) -> Entry:
    """An entry with a movement and a weighing."""
    from inventory.book import ledger

    def build(draft: Draft) -> None:
        draft.read(Reading(cylinder.account, "check", 11_200_000, 6_200_000, 2_041, scale, "11.2 kg"))
        draft.move(Line("charge", cylinder.account, vehicle_account, "R-134a", "virgin", KG, "pair"))

    return ledger.write(book, act(), build)


def is_refused(attempt: Callable[[], object]) -> None:
    with pytest.raises(DatabaseError, match=MARK), transaction.atomic():
        attempt()


def sql(statement: str, *values: object) -> None:
    with connection.cursor() as cursor:
        cursor.execute(statement, values)


COLUMNS = [(model, field.attname) for model in (Entry, Movement, Weighing) for field in model._meta.concrete_fields]


@pytest.mark.parametrize(("model", "column"), COLUMNS, ids=[f"{m.__name__}-{c}" for m, c in COLUMNS])
def test_no_column_of_a_written_row_is_updated_by_sql(written, model, column):
    """Even to what it is already."""
    is_refused(lambda: sql(f"UPDATE {model._meta.db_table} SET {column} = {column}"))


@pytest.mark.parametrize("model", [Entry, Movement, Weighing])
def test_written_rows_are_neither_saved_again_nor_updated_nor_deleted(written, model):
    row = model.objects.last()
    is_refused(row.save)
    is_refused(lambda: model.objects.filter(pk=row.pk).update(id=row.pk))
    is_refused(lambda: model.objects.filter(pk=row.pk)._raw_delete("default"))
    is_refused(lambda: sql(f"DELETE FROM {model._meta.db_table} WHERE id = %s", row.pk))
    is_refused(lambda: sql(f"DELETE FROM {model._meta.db_table}"))


@pytest.mark.parametrize("model", [Account, Book, Scale])
def test_what_lines_refer_to_is_not_deleted(written, model):
    row = model.objects.last()
    is_refused(lambda: model.objects.filter(pk=row.pk)._raw_delete("default"))
    is_refused(lambda: sql(f"DELETE FROM {model._meta.db_table} WHERE id = %s", row.pk))


@pytest.mark.skipif("connection.vendor == 'sqlite'", reason="SQLite has no TRUNCATE")
@pytest.mark.parametrize("model", [Entry, Movement, Weighing, Account, Book, Scale])
def test_no_table_of_the_book_is_truncated(written, model):
    connection.check_constraints()  # so that nothing is pending in this transaction
    is_refused(lambda: sql(f"TRUNCATE {model._meta.db_table} CASCADE"))


REPLACEMENTS = [
    ("inventory_entry", {}),
    ("inventory_entry", {"id": 10**9}),
    ("inventory_entry", {"id": 10**9, "seq": 10**6}),
    ("inventory_entry", {"id": 10**9, "request_key": "0" * 32}),
    ("inventory_movement", {}),
    ("inventory_movement", {"id": 10**9}),
    ("inventory_weighing", {}),
    ("inventory_weighing", {"id": 10**9}),
    ("inventory_account", {}),
    ("inventory_book", {}),
    ("inventory_scale", {}),
]


@pytest.mark.skipif("connection.vendor != 'sqlite'", reason="INSERT OR REPLACE is of SQLite")
@pytest.mark.parametrize(("table", "changed"), REPLACEMENTS)
@pytest.mark.parametrize("recursive", ["ON", "OFF"])
def test_no_row_is_replaced_under_any_of_its_keys(written, table, changed, recursive):
    """INSERT OR REPLACE deletes the old row without a delete trigger, unless the connection asks for it."""
    with connection.cursor() as cursor:
        cursor.execute(f"PRAGMA recursive_triggers = {recursive}")
        cursor.execute(f"SELECT * FROM {table} ORDER BY id DESC LIMIT 1")
        row = dict(zip([column[0] for column in cursor.description], cursor.fetchone(), strict=True)) | changed
        places = ", ".join(["%s"] * len(row))
        insert = f"INSERT OR REPLACE INTO {table} ({', '.join(row)}) VALUES ({places})"
        try:
            is_refused(lambda: sql(insert, *row.values()))
        finally:
            cursor.execute("PRAGMA recursive_triggers = ON")


@pytest.mark.skipif("connection.vendor != 'sqlite'", reason="INSERT OR REPLACE is of SQLite")
def test_a_reversal_is_not_replaced_by_another_of_the_same_line(written, act):

    undo_line(written, act())
    with connection.cursor() as cursor:
        cursor.execute("SELECT * FROM inventory_entry WHERE kind = 'reverse'")
        row = dict(zip([column[0] for column in cursor.description], cursor.fetchone(), strict=True))
    row |= {"id": 10**9, "seq": 10**6, "request_key": "0" * 32}
    places = ", ".join(["%s"] * len(row))
    is_refused(
        lambda: sql(f"INSERT OR REPLACE INTO inventory_entry ({', '.join(row)}) VALUES ({places})", *row.values())
    )


def test_an_account_keeps_its_book_number_and_kind_and_may_change_its_label(written, sister_book, cylinder):
    mine = Account.objects.filter(pk=cylinder.account_id)
    is_refused(lambda: mine.update(kind="rig"))
    is_refused(lambda: mine.update(number=99))
    is_refused(lambda: mine.update(book=sister_book))
    assert mine.update(label="scrubbed") == 1


def test_a_scale_keeps_its_book_and_number_and_may_be_renamed(written, sister_book, scale):
    mine = Scale.objects.filter(pk=scale.pk)
    is_refused(lambda: mine.update(number=99))
    is_refused(lambda: mine.update(book=sister_book))
    assert mine.update(name="floor scale", retired=True) == 1


def test_a_book_only_goes_forward(written, book):
    mine = Book.objects.filter(pk=book.pk)
    is_refused(lambda: mine.update(head_seq=1))
    is_refused(lambda: mine.update(head_digest="0" * 64))
    is_refused(lambda: mine.update(uid="00000000-0000-0000-0000-000000000001"))
    assert mine.update(name="Port Ellery Motors", zone="UTC") == 1


@pytest.mark.tampers
def test_a_closed_day_is_not_opened_again(book):
    mine = Book.objects.filter(pk=book.pk)
    mine.update(closed_through=date(2025, 12, 31))
    is_refused(lambda: mine.update(closed_through=date(2025, 12, 30)))
    is_refused(lambda: mine.update(closed_through=None))
    assert mine.update(closed_through=date(2026, 12, 31)) == 1


def test_a_stale_copy_of_a_book_cannot_take_its_head_back(book, cylinder, vehicle_account, post):
    stale = Book.objects.get(pk=book.pk)
    post("charge", cylinder, vehicle_account, 1)
    is_refused(stale.save)


# What stands, and what is missing


def test_all_guards_stand_after_the_migrations(db):
    assert guards.missing() == []
    assert guards.standing() == {guard.name for guard in guards.guards()}


def test_the_system_check_is_quiet_while_all_guards_stand(db):
    assert not [found for found in run_checks(databases=["default"], tags=["database"]) if found.id == "inventory.W001"]


@pytest.mark.tampers
def test_the_system_check_names_each_missing_guard(db):
    first = guards.guards()[0]
    with connection.cursor() as cursor:
        cursor.execute(f"DROP TRIGGER {first.name}" + ("" if connection.vendor == "sqlite" else f" ON {first.table}"))
    found = [one for one in run_checks(databases=["default"], tags=["database"]) if one.id == "inventory.W001"]
    assert [one.msg for one in found] == [f"The guard {first.name} of the mass book is not in the database."]
    assert guards.missing() == [first.name]


@pytest.mark.skipif(connection.vendor != "sqlite", reason="PostgreSQL spells a trigger its own way")
def test_a_weaker_trigger_of_the_same_name_counts_as_missing_and_is_put_back(db):
    sql("DROP TRIGGER guard_inventory_entry_update")
    sql(
        "CREATE TRIGGER guard_inventory_entry_update BEFORE UPDATE ON inventory_entry WHEN NEW.id < 0 "
        "BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END"
    )
    assert guards.missing() == ["guard_inventory_entry_update"]
    guards.install()
    assert guards.missing() == []


@pytest.mark.tampers
@pytest.mark.skipif("connection.vendor == 'sqlite'", reason="on SQLite a trigger cannot be switched off, only dropped")
def test_a_guard_that_is_switched_off_counts_as_missing_and_is_put_back(db):
    sql("ALTER TABLE inventory_entry DISABLE TRIGGER guard_inventory_entry_update")
    assert guards.missing() == ["guard_inventory_entry_update"]
    guards.install()
    assert guards.missing() == []


def test_guards_are_renewed_as_they_are_written_now(written):
    """A guard that an older version left weaker is not kept for its name."""
    on_table = "" if connection.vendor == "sqlite" else " ON inventory_entry"
    weak = (
        "BEFORE UPDATE ON inventory_entry WHEN 0 BEGIN SELECT RAISE(ABORT, 'no'); END"
        if connection.vendor == "sqlite"
        else "BEFORE UPDATE ON inventory_entry FOR EACH ROW WHEN (false) EXECUTE FUNCTION tarebook_refuse()"
    )
    sql(f"DROP TRIGGER guard_inventory_entry_update{on_table}")
    sql(f"CREATE TRIGGER guard_inventory_entry_update {weak}")
    guards.install()
    is_refused(lambda: Entry.objects.update(actor="p-another"))


# Migrations


def migrate(*operations: migrations.operations.base.Operation) -> None:
    """Run a migration of the inventory app as `migrate` does: signals before and after, with its plan."""
    from django.apps import apps
    from django.db.migrations.executor import MigrationExecutor

    class Added(migrations.Migration):
        pass

    added = Added("9999_added", "inventory")
    added.operations = list(operations)
    config = apps.get_app_config("inventory")
    plan = [(added, False)]
    state: ProjectState = MigrationExecutor(connection).loader.project_state()
    pre_migrate.send(config, plan=plan, using="default", verbosity=0, interactive=False, app_config=config, apps=apps)
    with connection.schema_editor(atomic=True) as editor:
        added.apply(state, editor)
    post_migrate.send(config, plan=plan, using="default", verbosity=0, interactive=False, app_config=config, apps=apps)


@pytest.mark.parametrize("model", ["Entry", "Movement", "Weighing", "Account", "Book", "Scale"])
def test_guards_stand_again_after_a_migration_rebuilt_a_table(transactional_db, written, model):
    """Adding a column that may not be null rebuilds a table on SQLite, and its triggers are gone without a word."""
    added = models.CharField(max_length=5, default="")
    migrate(migrations.AddField(model, "added", added))
    try:
        assert guards.missing() == []
        is_refused(lambda: sql("UPDATE inventory_entry SET actor = 'x'"))
    finally:
        migrate(migrations.RunSQL("SELECT 1"), _without(model))
    assert guards.missing() == []


def _without(model: str) -> migrations.operations.base.Operation:
    """Take the added column off again, whatever the state of the migrations says."""
    return migrations.RunSQL(f"ALTER TABLE inventory_{model.lower()} DROP COLUMN added")


def test_without_the_renewal_a_rebuilt_table_loses_its_guards(transactional_db, written):
    """The reason for the renewal, held so that it is not taken out one day as needless."""
    if connection.vendor != "sqlite":
        pytest.skip("only SQLite rebuilds tables")
    from django.db.migrations.executor import MigrationExecutor

    state = MigrationExecutor(connection).loader.project_state()
    after = state.clone()
    add = migrations.AddField("Movement", "added", models.CharField(max_length=5, default=""))
    add.state_forwards("inventory", after)
    with connection.schema_editor() as editor:
        add.database_forwards("inventory", editor, state, after)
    try:
        assert "guard_inventory_movement_update" in guards.missing()
    finally:
        sql("ALTER TABLE inventory_movement DROP COLUMN added")
        guards.install()


def test_emptying_the_database_between_tests_leaves_the_guards(transactional_db, written):
    """The runner's flush follows this test; the one after it looks."""
    assert Entry.objects.count() == 2


def test_the_emptied_database_has_its_guards(transactional_db):
    assert Entry.objects.count() == 0
    assert guards.missing() == []
