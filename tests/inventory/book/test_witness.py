"""What left the house is compared with the book: a tail cut off with its head, a book put up in another's place."""

import json
from pathlib import Path
from typing import Any

import pytest
from django.core import mail
from django.core.management import CommandError, call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.book import audit, changed, guards, ledger, witness
from inventory.book.chain import standing_digest
from inventory.models import Book, Entry, Movement, PeriodTotal, Trace
from inventory.models.kept import read, write_first

pytestmark = pytest.mark.django_db
KG = 1_000_000


@pytest.fixture
def story(post: Any, account: Any, cylinder: Any, vehicle_account: Any) -> Book:
    for _ in range(3):
        post("charge", cylinder, vehicle_account, KG)
    return Book.objects.get()


@pytest.fixture
def seen(story: Book, tmp_path: Path) -> Path:
    call_command("witness", "--output", str(tmp_path / "seen.json"))
    return tmp_path / "seen.json"


def verify(*files: Path) -> str:
    from io import StringIO

    out = StringIO()
    call_command("verify", *(f"--witness={file}" for file in files), stdout=out)
    return out.getvalue()


def cut(story: Book, lines: int) -> None:
    """Take the last lines away as somebody would who holds the server: guards off, head and copies set back."""
    guards.remove()
    left = story.head_seq - lines
    for movement in Movement.objects.filter(entry__seq__gt=left).select_related("source", "target"):
        for ours, sign in ((movement.source, 1), (movement.target, -1)):
            for holding in ours.holdings.all():
                holding.mass_mg += sign * movement.mass_mg
                holding.save()
        PeriodTotal.objects.all().delete()
    Movement.objects.filter(entry__seq__gt=left).delete()
    Entry.objects.filter(seq__gt=left).delete()
    from inventory.models.totals import fill

    fill(Movement, PeriodTotal)
    last = Entry.objects.get(seq=left)
    Book.objects.update(head_seq=left, head_digest=last.digest)
    guards.install()


def test_a_witness_says_book_line_digest_and_day(story, seen, clock):
    said = json.loads(seen.read_text())
    assert said == {
        "book": "Port Ellery",
        "line": story.head_seq,
        "digest": story.head_digest,
        "day": witness.of(story).day,
    }


def test_its_day_is_the_books_own(story, clock, now):
    clock(now.replace(year=2026, month=3, day=31, hour=23, minute=0))
    assert witness.of(story).day == "2026-04-01"


def test_a_book_that_went_on_still_is_the_one_that_was_seen(story, seen, post, cylinder, vehicle_account):
    post("charge", cylinder, vehicle_account, KG // 2)
    assert f"still is the book that was seen on {witness.of(story).day} with line {story.head_seq}" in verify(seen)


def test_a_book_is_proved_once_however_many_witnesses_saw_it(story, seen, tmp_path):
    call_command("witness", "--output", str(tmp_path / "again.json"))
    with CaptureQueriesContext(connection) as alone:
        verify()
    with CaptureQueriesContext(connection) as seen_twice:
        verify(seen, tmp_path / "again.json")
    read = [sum("inventory_movement" in query["sql"] for query in of) for of in (alone, seen_twice)]
    assert read[0] == read[1] > 0


def test_a_book_called_otherwise_since_is_known_by_its_line(story, seen):
    Book.objects.update(name="Port Ellery South")
    assert "Port Ellery South: still is the book" in verify(seen)


@pytest.mark.tampers
@pytest.mark.parametrize("lines", [1, 2])
def test_a_tail_cut_off_with_the_head_set_back_is_found_by_the_witness_alone(story, seen, lines):
    cut(story, lines)
    assert [str(fault) for fault in audit.faults(story)] == []
    assert "lines with" in verify()
    with pytest.raises(CommandError, match=f"line {story.head_seq}: was seen on .* it was cut short") as stopped:
        verify(seen)
    assert stopped.value.returncode == 1


@pytest.mark.tampers
def test_a_book_cut_short_that_went_on_is_found(story, seen, post, cylinder, vehicle_account):
    cut(story, 1)
    post("charge", cylinder, vehicle_account, KG // 4)
    post("charge", cylinder, vehicle_account, KG // 4)
    assert "lines with" in verify()
    with pytest.raises(CommandError, match=f"line {story.head_seq}: is not the line that was seen"):
        verify(seen)


def test_another_book_of_the_same_name_is_found(story, seen, make_book):
    Book.objects.update(name="put aside")
    other = make_book("Port Ellery", "Etc/GMT-2")
    mine = witness.read(seen.read_text())
    assert witness.book_of(mine) == story
    assert "was cut short" in " ".join(map(str, witness.faults(mine, other)))


@pytest.mark.tampers
def test_a_book_replaced_by_one_as_long_is_found(story, seen):
    guards.remove()
    with connection.cursor() as cursor:
        cursor.execute("UPDATE inventory_book SET uid = %s", ["6d1c7c100000400080000000000000aa"])
    book, previous = Book.objects.get(), ""
    for entry in Entry.objects.order_by("seq"):
        entry.traced = ""
        entry.digest = previous = standing_digest(book, previous, entry)
        entry.save()
    Trace.objects.all().delete()
    Book.objects.update(head_digest=previous, trace_seq=0, trace_digest="")
    for model in changed.kept_models():
        keys = list(model._base_manager.values_list("pk", flat=True))
        write_first(book.pk, model._meta.model_name, read(model, keys, "default"))
    guards.install()
    assert "lines with" in verify()
    with pytest.raises(CommandError, match=f"line {story.head_seq}: is not the line that was seen"):
        verify(seen)


def test_a_book_that_is_not_here_is_said_to_be_gone(story, seen, tmp_path):
    said = json.loads(seen.read_text())
    (tmp_path / "other.json").write_text(json.dumps({**said, "book": "Nowhere", "digest": "0" * 64}))
    with pytest.raises(CommandError, match="saw the book Nowhere. No book here has that name"):
        verify(tmp_path / "other.json")


def test_what_an_empty_book_witnesses_holds_as_long_as_it_is_there(make_book, tmp_path):
    book = make_book("Empty Street")
    call_command("witness", "--output", str(tmp_path / "seen.json"))
    assert json.loads((tmp_path / "seen.json").read_text())["line"] == 0
    ledger.open_account(book, "vehicle", "V")
    assert "still is the book" in verify(tmp_path / "seen.json")


@pytest.mark.parametrize(
    "text",
    ["", "{}", "[]", "3", '{"book": 1, "line": 2, "digest": "x", "day": "2026-01-01"}',
     '{"book": "B", "line": "2", "digest": "x", "day": "2026-01-01"}',
     '{"book": "B", "line": true, "digest": "x", "day": "2026-01-01"}',
     '{"book": "B", "line": 2, "digest": "x", "day": "yesterday"}'],
)  # fmt: skip
def test_what_is_no_witness_is_refused_in_words(text, tmp_path, db):
    (tmp_path / "no.json").write_text(text)
    with pytest.raises(CommandError, match="It is no witness"):
        verify(tmp_path / "no.json")


def test_a_witness_that_is_not_there_is_said(db, tmp_path):
    with pytest.raises(CommandError, match="No such file"):
        verify(tmp_path / "nothing.json")


def test_several_books_go_to_a_folder_each_in_a_file_of_its_own(story, make_book, tmp_path):
    make_book("Highmoor")
    with pytest.raises(CommandError, match="The books here: Highmoor, Port Ellery"):
        call_command("witness", "--output", str(tmp_path / "one.json"))
    call_command("witness", "--output", str(tmp_path))
    files = sorted(tmp_path.glob("*.json"))
    assert [json.loads(file.read_text())["book"] for file in files] == ["Highmoor", "Port Ellery"]
    assert "Port Ellery: still is" in verify(*files)
    call_command("witness", "--output", str(tmp_path / "one.json"), "--book", "Highmoor")
    assert json.loads((tmp_path / "one.json").read_text())["book"] == "Highmoor"


def test_a_witness_is_mailed_with_its_file(story):
    call_command("witness", "--mail", "books@example.org")
    [letter] = mail.outbox
    assert letter.to == ["books@example.org"]
    assert story.head_digest in letter.body
    [(_, attached, kind)] = letter.attachments
    assert (witness.read(attached).digest, kind) == (story.head_digest, "application/json")


def test_it_says_where_it_cannot_write_and_what_it_was_not_told(story, tmp_path):
    with pytest.raises(CommandError, match="Say where it goes"):
        call_command("witness")
    with pytest.raises(CommandError, match="cannot be written: No such file"):
        call_command("witness", "--output", str(tmp_path / "no" / "where.json"))
    with pytest.raises(CommandError, match="The books here: Port Ellery"):
        call_command("witness", "--output", str(tmp_path), "--book", "Nowhere")
