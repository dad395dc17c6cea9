"""`verify` of what is new since a head, and of a long book in stretches side by side."""

from collections.abc import Callable, Iterable, Iterator
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from inventory.book import audit, chain, changed, guards
from inventory.models import Book, Entry, Holding, Movement, Trace

pytestmark = pytest.mark.tampers
KG = 1_000_000


class InTurn:
    """Does in this process, one after the other, what a pool does in its own."""

    def imap(self, prove: Callable[..., object], stretches: Iterable[object]) -> Iterator[object]:
        return map(prove, stretches)


def verify(**options: object) -> str:
    out = StringIO()
    call_command("verify", stdout=out, **options)
    return out.getvalue()


def digest_of(seq: int) -> str:
    return Entry.objects.get(seq=seq).digest


def rechain(book: Book) -> None:
    book, previous = Book.objects.get(pk=book.pk), ""
    for entry in Entry.objects.filter(book=book).order_by("seq"):
        previous = chain.standing_digest(book, previous, entry)
        Entry.objects.filter(pk=entry.pk).update(digest=previous)
    Book.objects.filter(pk=book.pk).update(head_digest=previous)


def test_since_a_head_only_what_is_new_is_read(story, post, cylinder, vehicle_account):
    now = Book.objects.get(pk=story.pk)
    assert verify(since=f"{now.head_seq}:{now.head_digest[:16]}").startswith("Port Ellery: 0 lines with 0 movements")
    post("charge", cylinder, vehicle_account, KG)
    said = verify(since=story.head_digest)
    new = now.head_seq + 1 - 9
    assert said.startswith(f"Port Ellery: {new} lines with {new} movements and 0 weighings, written since line 9, are")
    assert said.endswith("Line 9 has the digest that was given; of the lines up to it only the masses were added up.\n")


def test_since_a_head_the_states_of_records_that_were_written_since_are_proved(story, vehicle_account):
    seen, gone_on = f"9:{digest_of(9)}", changed.states_since(story, 9)
    vehicle_account.label = "the same car"
    vehicle_account.save()
    assert f"its history of records has gone on by {gone_on + 1};" in verify(since=seen)


@pytest.mark.usefixtures("guards_off")
def test_since_a_head_a_state_changed_after_it_is_found_and_one_before_it_is_taken_as_proved(story, vehicle_account):
    named = Trace.objects.get(book=story, digest=Entry.objects.get(seq=9).traced).seq
    vehicle_account.label = "the same car"
    vehicle_account.save()
    Trace.objects.filter(seq=named - 1).update(who="p-nobody")
    guards.install()
    assert "its history of records has gone on by" in verify(since=f"9:{digest_of(9)}")
    guards.remove()
    Trace.objects.filter(seq=named + 1).update(who="p-nobody")
    guards.install()
    with pytest.raises(CommandError, match=rf"history {named + 1}: is not what was written"):
        verify(since=f"9:{digest_of(9)}")


@pytest.mark.usefixtures("guards_off")
def test_since_a_head_a_record_that_was_changed_outside_is_found_whenever_it_was_written(story, vehicle_account):
    with connection.cursor() as cursor:
        cursor.execute("UPDATE inventory_account SET label = 'another car' WHERE id = %s", [vehicle_account.pk])
    guards.install()
    with pytest.raises(CommandError, match="label was changed outside the product"):
        verify(since=f"{story.head_seq}:{story.head_digest}")


@pytest.mark.usefixtures("guards_off")
def test_since_a_head_a_line_that_names_no_state_of_the_history_is_found(story):
    Entry.objects.filter(seq=9).update(traced="0" * 64)
    rechain(story)
    guards.install()
    with pytest.raises(CommandError, match="line 9: names a state of the history that is not in it"):
        verify(since=f"9:{digest_of(9)}")


def test_a_head_may_be_given_as_it_is_printed_with_blanks(story):
    digest = story.head_digest[:16].upper()
    assert "written since line 9" in verify(since=f"9: {digest[:4]} {digest[4:8]} {digest[8:12]} {digest[12:]}")


@pytest.mark.usefixtures("guards_off")
def test_since_a_head_a_change_after_it_is_found_and_one_before_it_is_not_looked_for(story):
    Entry.objects.filter(seq=3).update(actor="p-nobody")
    guards.install()
    assert "written since line 4, are as they were written" in verify(since=f"4:{digest_of(4)}")
    guards.remove()
    Movement.objects.filter(entry__seq=6).update(mass_mg=1)
    guards.install()
    with pytest.raises(CommandError, match=r"^Port Ellery, line 6: is not what was written"):
        verify(since=f"4:{digest_of(4)}")


@pytest.mark.usefixtures("guards_off")
@pytest.mark.parametrize(
    ("find", "change", "words"),
    [
        ({"cause": "loss-explained"}, {"mass_mg": 180_001}, "line 5, movement 1: explains more than was left"),
        ({"cause": "charge", "entry__seq": 9}, {"mass_mg": 40 * KG}, "line 9, movement 1: takes more than cylinder"),
        ({"cause": "charge", "entry__seq": 9}, {"mass_mg": KG}, "holding of cylinder"),
        ({"cause": "regrade", "line": 2}, {"mass_mg": 1}, "line 3: leaves a rest in the process account"),
        ({"cause": "charge", "reversal": True}, {"mass_mg": -1}, "line 7: does not undo the whole of line 6"),
    ],
)
def test_since_a_head_the_laws_are_held_though_every_digest_was_written_anew(story, find, change, words):
    seen = f"2:{digest_of(2)}"
    movement = Movement.objects.get(**find)
    Movement.objects.filter(pk=movement.pk).update(**change)
    rechain(story)
    assert seen == f"2:{digest_of(2)}"
    found = [str(fault) for fault in audit.faults(story, since=2)]
    assert found[0].startswith(words)


@pytest.mark.parametrize(
    ("head", "words"),
    [
        ("9:00", "A head is LINE:DIGEST or DIGEST, of 16 to 64 digits"),
        ("nine:" + "0" * 16, "A head is LINE:DIGEST or DIGEST"),
        ("0" * 16, "No line of a book here has the digest 0000000000000000: it is of another book"),
    ],
)
def test_what_is_no_head_is_refused_in_words(story, head, words):
    with pytest.raises(CommandError, match=words):
        verify(since=head)


def test_a_digest_of_another_line_is_no_head(story):
    with pytest.raises(CommandError, match="No line of a book here has the digest 8:"):
        verify(since=f"8:{story.head_digest}")


def erase(entry: Entry) -> None:
    entry.movements.all().delete()
    Entry.objects.filter(pk=entry.pk)._raw_delete("default")


def tampered(story: Book) -> None:
    """Spoil a line, a mass, a whole line and a holding."""
    Entry.objects.filter(seq=5).update(actor="p-nobody")
    Movement.objects.filter(entry__seq=2).update(mass_mg=40 * KG)
    erase(Entry.objects.get(seq=9))
    Holding.objects.filter(account__label="a car").update(mass_mg=5)


@pytest.mark.parametrize("length", [1, 2, 3, 4, 100])
@pytest.mark.usefixtures("guards_off")
def test_stretches_find_what_one_reading_finds(story, length, monkeypatch):
    monkeypatch.setattr(audit, "LONG", 1)
    monkeypatch.setattr(audit, "SHORTEST", length)
    monkeypatch.setattr(audit, "STRETCHES", 1_000)
    assert [*audit.faults(story, pool=InTurn())] == []
    tampered(story)
    found = [*audit.faults(story, pool=InTurn())]
    assert found == [*audit.faults(story)]
    assert len(found) > 3


@pytest.mark.usefixtures("guards_off")
@pytest.mark.parametrize("length", [1, 4])
def test_a_line_that_is_missing_between_two_stretches_is_named(story, length, monkeypatch):
    monkeypatch.setattr(audit, "LONG", 1)
    monkeypatch.setattr(audit, "SHORTEST", length)
    monkeypatch.setattr(audit, "STRETCHES", 1_000)
    Movement.objects.filter(explains__entry__seq=4).delete()
    erase(Entry.objects.get(seq=4))
    found = str(next(audit.faults(story, pool=InTurn())))
    assert found == "line 4: is not in the book; after it comes line 5"


def test_how_far_it_is_is_told_up_to_the_last_line(story):
    told: list[tuple[int, int]] = []
    assert [*audit.faults(story, tell=lambda done, lines: told.append((done, lines)))] == []
    assert told[-1] == (9, 9)


PROVE = """
import sys
sys.path.insert(0, {folder!r})
from book_process import set_up, charge
from django.core.management import call_command
from inventory.book import audit
from inventory.models import Book, Entry
book = set_up("long")
for number in range(9): charge(book, f"act {{number}}", 100_000 + number)
audit.LONG, audit.SHORTEST, audit.STRETCHES = 1, 2, 1_000
with audit.workers() as pool:
    assert pool is not None
    assert [*audit.faults(book, pool=pool)] == []
call_command("verify")
from inventory.book import guards
guards.remove()
Entry.objects.filter(seq=7).update(actor="p-nobody")
call_command("verify")
"""


@pytest.mark.processes
def test_a_long_book_is_proved_by_processes_side_by_side(manage):
    done = manage("shell", "--no-imports", "-c", PROVE.format(folder=str(Path(__file__).parent)))
    assert "11 lines with 11 movements" in done.stdout, done.stderr
    assert "11 of 11 lines are read" in done.stderr
    assert "line 7: is not what was written" in done.stderr
    assert done.returncode == 1
