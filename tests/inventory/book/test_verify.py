"""`verify` finds what somebody changed behind the guards' back, and names the row."""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db import connection, models, transaction
from django.db.models import F
from django.test.utils import CaptureQueriesContext

from inventory.book import audit, auditrows, chain, guards
from inventory.models import Account, Book, Entry, Holding, Movement, Scale, Weighing

pytestmark = pytest.mark.tampers
KG = 1_000_000


def first_fault(book: Book) -> str:
    return str(next(audit.faults(book), "no fault"))


def other_value(row: models.Model, field: models.Field) -> object:
    """Return a value of the same sort that is not the one that stands there."""
    value = getattr(row, field.attname)
    if field.name == "entry":
        return Entry.objects.get(kind="close").pk  # it has no lines of its own
    if isinstance(field, models.ForeignKey):
        related = field.related_model._default_manager.exclude(pk=value)
        return related.order_by("-pk").values_list("pk", flat=True).first()
    if isinstance(field, models.DateTimeField):
        return value + timedelta(milliseconds=1)
    if isinstance(field, models.DateField):
        return value + timedelta(days=1)
    if isinstance(field, models.UUIDField):
        return "00000000-0000-0000-0000-000000000001"
    if isinstance(field, models.BooleanField):
        return not value
    if isinstance(field, models.IntegerField):
        return value + 7
    alternatives = {
        "kind": "seal",
        "cause": "purge",
        "basis": "machine",
        "grade": "reclaimed",
        "role": "single",
        "refrigerant": "R-12",
    }
    return alternatives.get(field.name) or (value[:-1] + ("1" if value[-1:] == "0" else "0"))


def fields_of(model: type[models.Model]) -> list[models.Field]:
    return [field for field in model._meta.concrete_fields if not field.primary_key]


@contextmanager
def undone() -> Iterator[None]:
    """Take back what is done inside."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


# Where the row of line 2 does not have the field, or a CHECK looks at more than the field: which row, and what change.
WITH_CARE: dict[tuple[type[models.Model], str], tuple[dict[str, object], dict[str, object]]] = {
    (Entry, "seq"): ({"seq": 2}, {"seq": 99}),
    (Entry, "kind"): ({"seq": 2}, {"kind": "seal"}),
    (Entry, "reverses"): ({"kind": "reverse"}, {"reverses": F("id") - 3}),
    (Movement, "reversal"): ({"entry__seq": 2}, {"reversal": True, "mass_mg": -KG}),
    (Movement, "explains"): ({"cause": "loss-explained"}, {"explains": F("id") - 2}),
}


@pytest.mark.usefixtures("guards_off")
@pytest.mark.parametrize("model", [Entry, Movement, Weighing])
def test_any_changed_field_of_a_written_row_is_found(story, sister_book, model, subtests):
    """Every field of an entry and of its lines, one by one; the fault names the line."""
    for field in fields_of(model):
        with subtests.test(field.name), undone():
            ordinary = {"seq": 2} if model is Entry else {"entry__seq": 2}
            find, change = WITH_CARE.get((model, field.name), (ordinary, {}))
            row = model.objects.filter(**find).earliest("pk")
            seq = row.seq if model is Entry else row.entry.seq
            change = change or {field.attname: other_value(row, field)}
            assert model.objects.filter(pk=row.pk).update(**change) == 1
            assert re.match(rf"line {seq}\b", first_fault(story))


@pytest.mark.usefixtures("guards_off")
def test_any_changed_field_of_a_holding_is_found(story, subtests):
    for field in fields_of(Holding):
        with subtests.test(field.name), undone():
            stock = field.name == "grade"
            row = Holding.objects.filter(stock=stock, mass_mg__gt=0).earliest("pk")
            change = {field.attname: other_value(row, field)}
            if field.name == "stock":
                change["grade"] = "virgin"
            assert Holding.objects.filter(pk=row.pk).update(**change) == 1
            assert first_fault(story).startswith("holding of ")


@pytest.mark.usefixtures("guards_off")
@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"head_seq": 3}, "book Port Ellery: its head does not carry the digest"),
        ({"head_seq": 99}, "line 10: is not in the book, whose head is line 99"),
        ({"head_digest": "0" * 64}, "book Port Ellery: its head does not carry the digest"),
        ({"uid": "00000000-0000-0000-0000-000000000001"}, "line 1: is not what was written"),
        ({"closed_through": None}, "book Port Ellery: says that it is closed through no day"),
        ({"closed_through": date(2020, 1, 1)}, "book Port Ellery: says that it is closed through 2020-01-01"),
    ],
)
def test_a_changed_head_of_the_book_is_found(story, change, words):
    Book.objects.filter(pk=story.pk).update(**change)
    assert first_fault(story).startswith(words)


@pytest.mark.usefixtures("guards_off")
@pytest.mark.parametrize(
    ("model", "which", "change"),
    [
        (Account, "a car", {"kind": "rig"}),
        (Account, "a car", {"number": 99}),
        (Account, "C-1", {"number": 99}),
        (Scale, "S1", {"number": 99}),
    ],
)
def test_a_changed_account_or_scale_is_found_by_the_first_line_that_names_it(story, model, which, change):
    rows = model.objects.filter(**({"label": which} if model is Account else {"name": which}))
    assert rows.update(**change) == 1
    assert re.match(r"line [12]\b", first_fault(story))


@pytest.mark.usefixtures("guards_off")
@pytest.mark.parametrize("model", [Account, Scale])
def test_an_account_or_scale_given_to_another_book_is_found(story, sister_book, model):
    used = Account.objects.get(label="a car") if model is Account else Scale.objects.get(name="S1")
    model.objects.filter(pk=used.pk).update(book=sister_book, number=77)
    assert re.match(r"line 2, (movement|weighing) 1: names an account or a scale of another book", first_fault(story))


@pytest.mark.usefixtures("guards_off")
@pytest.mark.parametrize("model", [Movement, Weighing])
def test_a_line_added_to_a_written_entry_is_found(story, model):
    row = model.objects.filter(entry__seq=2).first()
    row.pk, row.line, row._state.adding = None, 9, True
    row.save(force_insert=True)
    assert first_fault(story).startswith("line 2: is not what was written")


def test_a_line_can_be_added_behind_standing_guards_and_is_found(story):
    """The guards refuse change, not addition: the digest is what tells it."""
    row = Movement.objects.filter(entry__seq=2).first()
    row.pk, row.line, row._state.adding = None, 9, True
    row.save(force_insert=True)
    assert first_fault(story).startswith("line 2: is not what was written")


@pytest.mark.usefixtures("guards_off")
@pytest.mark.parametrize("model", [Movement, Weighing])
def test_a_line_taken_out_of_a_written_entry_is_found(story, model):
    model.objects.filter(entry__seq=2).first().delete()
    assert first_fault(story).startswith("line 2: is not what was written")


def erase(entry: Entry) -> None:
    entry.remarks.all().delete()
    entry.weighings.all().delete()
    Movement.objects.filter(explains__entry=entry).delete()
    entry.movements.all().delete()
    Entry.objects.filter(pk=entry.pk)._raw_delete("default")


@pytest.mark.usefixtures("guards_off")
def test_an_entry_taken_out_is_found_with_its_number(story):
    erase(Entry.objects.get(seq=3))
    assert first_fault(story) == "line 3: is not in the book; after it comes line 4"


@pytest.mark.usefixtures("guards_off")
def test_the_last_entry_taken_out_is_found(story):
    erase(Entry.objects.get(seq=story.head_seq))
    assert first_fault(story) == f"line {story.head_seq}: is not in the book, whose head is line {story.head_seq}"


def test_an_entry_beyond_the_head_is_found(story):
    last = Entry.objects.get(seq=story.head_seq)
    last.pk, last.seq, last._state.adding = None, story.head_seq + 1, True
    last.request_key = "00000000-0000-0000-0000-000000000001"
    last.save(force_insert=True)
    assert first_fault(story).startswith(f"line {story.head_seq + 1}: stands beyond the head")


@pytest.mark.usefixtures("guards_off")
def test_two_entries_that_changed_places_are_found(story):
    third, fourth = Entry.objects.get(seq=3), Entry.objects.get(seq=4)
    for pk, seq in ((third.pk, 100), (fourth.pk, 3), (third.pk, 4)):
        Entry.objects.filter(pk=pk).update(seq=seq)
    assert first_fault(story).startswith("line 3: is not what was written")


@pytest.mark.usefixtures("guards_off")
def test_a_lost_holding_and_an_invented_one_are_found(story):
    lost = Holding.objects.get(account__label="a car")
    Holding.objects.create(account=lost.account, refrigerant="R-12", grade="", stock=False, mass_mg=5)
    lost.delete()
    found = [str(fault) for fault in audit.faults(story)]
    assert len(found) == 2
    assert "R-12: says 5 mg; its movements say 0 mg" in found[0]
    assert "R-134a: is not there; its movements say 1250000 mg" in found[1]


# What one finds who recomputes the whole chain after a change


def rechain(book: Book) -> None:
    """Write every digest anew, as somebody would who has the code and the database."""
    book, previous = Book.objects.get(pk=book.pk), ""
    for entry in Entry.objects.filter(book=book).order_by("seq"):
        previous = chain.standing_digest(book, previous, entry)
        Entry.objects.filter(pk=entry.pk).update(digest=previous)
    Book.objects.filter(pk=book.pk).update(head_digest=previous)


@pytest.mark.usefixtures("guards_off")
def test_a_chain_written_anew_over_unchanged_rows_is_the_same_chain(story):
    rechain(story)
    assert first_fault(story) == "no fault"
    assert Book.objects.get(pk=story.pk).head_digest == story.head_digest


@pytest.mark.usefixtures("guards_off")
@pytest.mark.parametrize(
    ("find", "change", "words"),
    [
        ({"cause": "opening-stock"}, {"mass_mg": 1}, "line 2, movement 1: takes more than cylinder:5 held"),
        ({"cause": "opening-stock"}, {"grade": "reclaimed"}, "line 2, movement 1: takes more than cylinder:5 held"),
        ({"cause": "regrade", "line": 2}, {"mass_mg": 1}, "line 3: leaves a rest in the process account"),
        ({"cause": "charge", "entry__seq": 2}, {"cause": "purge"}, "line 2, movement 1: purge does not run"),
        ({"cause": "charge", "reversal": True}, {"mass_mg": -1}, "line 7: does not undo the whole of line 6"),
        ({"cause": "loss-explained"}, {"mass_mg": 180_001}, "line 5, movement 1: explains more than was left"),
        ({"cause": "charge", "entry__seq": 2}, {"mass_mg": KG + 1}, "holding of"),
    ],
)
def test_a_change_that_breaks_a_law_is_found_though_every_digest_was_written_anew(story, find, change, words):
    movement = Movement.objects.filter(**find).order_by("pk").first()
    Movement.objects.filter(pk=movement.pk).update(**change)
    rechain(story)
    assert first_fault(story).startswith(words)


@pytest.mark.usefixtures("guards_off")
def test_a_line_dated_into_a_closed_year_is_found_though_every_digest_was_written_anew(story, now):
    closed = now.date() - timedelta(days=30)
    entry = Entry.objects.get(seq=story.head_seq)
    Entry.objects.filter(pk=entry.pk).update(booked_on=closed)
    entry.movements.update(booked_on=closed)
    rechain(story)
    assert first_fault(story).startswith(f"line {entry.seq}: counts for {closed}; the book was closed through {closed}")


@pytest.mark.usefixtures("guards_off")
def test_mixing_is_found_though_every_digest_was_written_anew(story, cylinder, account, post):
    """A second content beside what a cylinder held; the database's own constraint is on holdings, not on movements."""
    first = Movement.objects.get(cause="opening-stock", target=cylinder.account)
    late = post("opening-stock", account("opening"), cylinder, KG)
    late.movements.update(refrigerant="R-12")
    rechain(story)
    assert first.refrigerant == "R-134a"
    assert first_fault(story).startswith(f"line {late.seq}, movement 1: mixes two contents in cylinder:")


# The command


def verify(**options: object) -> str:
    out = StringIO()
    call_command("verify", stdout=out, **options)
    return out.getvalue()


def test_verify_says_how_much_it_read_and_where_the_head_is(story):
    said = verify()
    assert said.startswith("Port Ellery: 9 lines with 9 movements and 2 weighings are as they were written; head 9, ")
    assert story.head_digest[:16] in said


@pytest.mark.usefixtures("guards_off")
def test_verify_stops_at_the_first_wrong_row(story):
    guards.install()
    Holding.objects.filter(account__kind="vehicle").update(mass_mg=1)
    with pytest.raises(CommandError, match=r"^Port Ellery, holding of vehicle:7, R-134a: says 1 mg") as stopped:
        verify()
    assert stopped.value.returncode == 1


@pytest.mark.usefixtures("guards_off")
def test_verify_stops_at_a_missing_guard(story):
    with pytest.raises(CommandError, match="The guard guard_inventory_.* is not in the database"):
        verify()


@pytest.mark.usefixtures("guards_off")
def test_verify_names_the_wrong_row_before_the_missing_guard(story):
    Movement.objects.filter(entry__seq=2, line=1).update(u_random_mg=1)
    with pytest.raises(CommandError, match=r"^Port Ellery, line 2: .* The guard guard_inventory_.* is not in the"):
        verify()


def test_verify_reads_one_book_or_all(story, make_book):
    make_book("Empty Street")
    assert verify(book="Empty Street").startswith("Empty Street: 0 lines with 0 movements and 0 weighings")
    assert len(verify().splitlines()) == 2


def test_verify_names_the_books_where_the_one_asked_for_is_not_there(story):
    with pytest.raises(CommandError, match="There is no book named 'Nowhere'. The books here: Port Ellery"):
        verify(book="Nowhere")


def test_verify_says_so_where_there_is_no_book(db):
    assert verify() == "There is no book yet.\n"


def test_a_fault_in_one_book_is_not_told_of_another(story, sister_book):
    Holding.objects.filter(account__kind="vehicle").update(mass_mg=1)
    assert first_fault(sister_book) == "no fault"


def test_reading_in_small_chunks_finds_the_same(story, monkeypatch):
    monkeypatch.setattr(auditrows, "CHUNK", 2)
    assert first_fault(story) == "no fault"
    guards.remove()
    Entry.objects.filter(seq=5).update(actor="p-nobody")
    guards.install()
    assert first_fault(story).startswith("line 5:")


def test_the_number_of_queries_follows_the_chunks_and_not_the_lines(story, post, cylinder, vehicle_account):
    def queries() -> int:
        with CaptureQueriesContext(
            connection,
        ) as captured:
            assert first_fault(story) == "no fault"
        return len(captured)

    few = queries()
    for _ in range(20):
        post("charge", cylinder, vehicle_account, 1)
    assert queries() == few


def test_a_snapshot_shows_one_moment_and_keeps_no_writer_out(transactional_db, book, cylinder, vehicle_account, post):
    """A writer in a thread of its own, with its own connection, while the reading stands open."""
    from threading import Thread

    written: list[Entry] = []

    def write() -> None:
        try:
            written.append(post("charge", cylinder, vehicle_account, KG))
        finally:
            connection.close()

    with audit.snapshot():
        before = audit.count(book)
        writer = Thread(target=write)
        writer.start()
        writer.join()
        assert audit.count(book) == before
        assert first_fault(book) == "no fault"
    assert len(written) == 1
    assert audit.count(book).entries == before.entries + 1


def test_a_snapshot_is_left_open_by_no_error(transactional_db, book, cylinder, vehicle_account, post):
    def read_and_fail() -> None:
        with audit.snapshot():
            audit.count(book)
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        read_and_fail()
    assert post("charge", cylinder, vehicle_account, KG).seq == 2
