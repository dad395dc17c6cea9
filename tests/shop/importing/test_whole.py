"""A whole book out and in again: the same statement to the milligram, the same chain, and no file that was altered."""

import csv
import io
import json
import re
import shutil
import zipfile
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from django.core.management import CommandError, call_command
from django.db import transaction
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from compliance.statement.figures import read_statement
from compliance.statement.files import as_data
from inventory.book import ledger
from inventory.models import Book, Photo, Remark
from inventory.models.access import OWNER
from inventory.output.files import csv_of
from inventory.shelf import photos
from inventory.shelf.camera import read_picture
from shop.demo.year import play
from shop.importing import whole
from shop.importing.whole.give import give
from shop.importing.whole.reading import NotABook
from shop.importing.whole.tables import MANIFEST, TABLES, guarded, unguarded
from shop.importing.whole.take import take
from shop.models import Customer, Membership, Step, User, Visit, Workshop

README = Path(whole.__file__).parent.parent / "README.md"
YEAR = (date(2025, 1, 1), date(2025, 12, 31))

Change = Callable[[str, bytes], bytes]


def played() -> Workshop:
    """The invented year of the demonstration, with what it lacks: a photo of a step, and a customer like a formula."""
    play()
    workshop = Workshop.objects.get(name="Port Ellery")
    book, step = workshop.book, Step.objects.order_by("pk").first()
    assert step is not None
    made = ledger.Act(uuid4(), step.doer.handle, step.occurred_at, {})
    photos.add_photo(book, made, read_picture(picture()), shows="scale", context=step.context)
    Customer.objects.create(workshop=workshop, name="=1+1", note="'quoted'\nand further")
    return workshop


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """What was written once for all tests: the file, and its statement where it was written."""
    return {"folder": tmp_path_factory.mktemp("written")}


@pytest.fixture
def path(db: None, settings: Any, tmp_path: Path, written: dict[str, Any]) -> Path:
    """The file of the year; its book is not in this database."""
    if "path" not in written:
        settings.MEDIA_ROOT = written["folder"] / "media"
        before = transaction.savepoint()
        workshop = played()
        give(workshop, written["folder"] / "book.zip", pictures=True)
        written["statement"] = statement(workshop.book)
        transaction.savepoint_rollback(before)
        written["path"] = written["folder"] / "book.zip"
    settings.MEDIA_ROOT = tmp_path / "media"
    return Path(shutil.copy(written["path"], tmp_path))


def picture() -> io.BytesIO:
    """A small white picture."""
    white = io.BytesIO()
    Image.new("RGB", (8, 8), "white").save(white, "JPEG")
    white.seek(0)
    return white


def statement(book: Book) -> dict[str, Any]:
    return as_data(read_statement(book, *YEAR, "AR4"))


def altered(path: Path, change: Change) -> Path:
    """The same file with something changed in what it holds."""
    to = path.with_name("altered.zip")
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(to, "w") as new:
        for name in old.namelist():
            new.writestr(name, change(name, old.read(name)))
    return to


def in_rows(content: bytes, change: Callable[[list[dict[str, str]]], None]) -> bytes:
    rows = list(csv.DictReader(io.StringIO(content.decode())))
    change(rows)
    return "".join(csv_of(list(rows[0]), [list(row.values()) for row in rows])).encode()


def test_beside_the_first_a_copy_has_the_same_statement(path: Path) -> None:
    year = take(path, "Port Ellery").workshop
    taken = take(path, "A copy")
    first, second = statement(year.book), statement(taken.workshop.book)
    assert not taken.same_chain
    assert first["lines"] == 31
    for of_the_copy in ("book", "head_digest"):
        assert first.pop(of_the_copy) != second.pop(of_the_copy)
    assert first == second
    for model, of_book in ((Step, "visit__workshop__book"), (Visit, "workshop__book"), (Remark, "entry__book")):
        counts = [model._default_manager.filter(**{of_book: one.book}).count() for one in (year, taken.workshop)]
        assert counts[0] == counts[1] > 0
    assert Customer.objects.get(workshop=taken.workshop, name="=1+1").note == "'quoted'\nand further"


def test_where_the_book_is_not_known_everything_is_the_same(path: Path, written: dict[str, Any]) -> None:
    taken = take(path, "Port Ellery")
    assert taken.same_chain
    assert statement(taken.workshop.book) == written["statement"]
    photo = Photo.objects.get()
    assert photos.content_of(photo) is not None
    assert photo.context.endswith(f"/step:{Step.objects.order_by('pk')[0].pk}")
    assert [*photos.faults(taken.workshop.book)] == []
    assert Customer.objects.filter(name="=1+1").count() == 1


# Files with numbers that a database gives by itself, and the columns that hold one.
NUMBERED = ("customers", "vehicles", "gauges", "gauge-checks", "steps", "watches", "watch-readings")
OF_THE_DATABASE = {"id", "customer", "gauge", "step", "watch", "data"}


def numberless(content: bytes) -> list[dict[str, str]]:
    rows = csv.DictReader(io.StringIO(content.decode()))
    return [{name: value for name, value in row.items() if name not in OF_THE_DATABASE} for row in rows]


def test_a_second_export_is_the_first_but_for_its_time(path: Path, tmp_path: Path) -> None:
    workshop = take(path, "Port Ellery").workshop
    again = tmp_path / "again.zip"
    give(workshop, again, pictures=True)
    with zipfile.ZipFile(path) as first, zipfile.ZipFile(again) as second:
        assert first.namelist() == second.namelist()
        differ = {name for name in first.namelist() if first.read(name) != second.read(name)}
        named = {name: (numberless(first.read(name)), numberless(second.read(name))) for name in differ - {MANIFEST}}
    # what the database numbers by itself, and the hour
    assert differ <= {MANIFEST, *(f"{name}.csv" for name in NUMBERED)}
    assert all(one == other for one, other in named.values())


def test_nobody_gets_in_by_a_file_but_the_owner_who_is_named(path: Path) -> None:
    workshop = take(path, "Port Ellery").workshop
    assert not Membership.objects.filter(workshop=workshop, active=True).exists()
    assert not any(user.has_usable_password() or user.is_active for user in User.objects.all())


def test_an_owner_of_the_file_gets_a_password(path: Path, client: Any, capsys: pytest.CaptureFixture[str]) -> None:
    call_command("import_book", str(path), "--create", book="Port Ellery", owner="owner")
    said = capsys.readouterr().out
    assert "31 lines; the chain is the one of the file" in said
    password = said.split("the password is ")[1].strip()
    assert User.objects.get(username="owner").check_password(password)
    assert Membership.objects.get(active=True).role == OWNER


def test_an_owner_whom_nobody_knows_is_named_and_nothing_is_written(path: Path) -> None:
    with pytest.raises(NotABook, match="Nobody signs in as nemo"):
        take(path, "A copy", owner="nemo")
    assert not Book.objects.filter(name="A copy").exists()


def _more_mass(rows: list[dict[str, str]]) -> None:
    rows[0]["mass_mg"] = str(int(rows[0]["mass_mg"]) + 1)


def _other_account(rows: list[dict[str, str]]) -> None:
    rows[0]["target"] = "999"


def _no_number(rows: list[dict[str, str]]) -> None:
    rows[0]["mass_mg"] = "much"


def _swapped(rows: list[dict[str, str]]) -> None:
    rows[0], rows[1] = rows[1], rows[0]


@pytest.mark.parametrize(
    ("name", "change", "words"),
    [
        ("movements.csv", _more_mass, "Line 1 is not what was written"),
        ("movements.csv", _other_account, "movements.csv, line 2, target: there is no account 999"),
        ("movements.csv", _no_number, "movements.csv, line 2, mass_mg: invalid literal"),
        ("movements.csv", lambda rows: rows.pop(), "movements.csv has 39 rows; book.json says 40"),
        ("movements.csv", _swapped, "is not what was written"),
        ("entries.csv", _swapped, "after line 0 comes line 2"),
        ("entries.csv", lambda rows: rows.pop(), "entries.csv has 30 rows; book.json says 31"),
        ("customers.csv", lambda rows: rows[0].update(name="x" * 121), "line 2, name: it has more than 120"),
        ("customers.csv", lambda rows: rows[0].update(colour="red"), "names colour, not known here"),
        ("cylinders.csv", lambda rows: [row.pop("serial") for row in rows], "lacks serial"),
    ],
)
def test_a_file_that_was_altered_is_refused_with_the_place(
    path: Path, name: str, change: Callable[[list[dict[str, str]]], Any], words: str
) -> None:
    other = altered(path, lambda found, content: in_rows(content, change) if found == name else content)
    with pytest.raises(NotABook) as caught:
        take(other, "A copy")
    assert words in str(caught.value)
    assert (Workshop.objects.count(), Book.objects.count()) == (0, 0)


@pytest.mark.parametrize(
    ("about", "words"),
    [
        ({"format": "another"}, "no whole book as export_book writes it"),
        ({"version": 2}, "version 2 of the format; this program reads version 1"),
        ({"zone": "Nowhere/Never"}, "There is no time zone Nowhere/Never"),
        ({"head_line": 9}, "book.json says line 9"),
        ({"rows": {}}, "What book.json says cannot be read"),
    ],
)
def test_what_the_manifest_says_must_hold(path: Path, about: dict[str, Any], words: str) -> None:
    def change(name: str, content: bytes) -> bytes:
        return json.dumps({**json.loads(content), **about}).encode() if name == "book.json" else content

    with pytest.raises(NotABook, match=re.escape(words)):
        take(altered(path, change), "A copy")


def test_another_picture_than_was_sealed_is_refused(path: Path) -> None:
    other = altered(path, lambda name, content: b"else" if name.startswith("photos/") else content)
    with pytest.raises(NotABook, match="is not the picture that was sealed"):
        take(other, "A copy")


@pytest.mark.parametrize("content", [b"", b"PK\x03\x04 cut short", b"a,b\n1,2\n"])
def test_what_is_no_zip_is_a_sentence(db: None, tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "x.zip"
    path.write_bytes(content)
    with pytest.raises(NotABook, match="no whole book"):
        take(path, "A copy")


def test_the_command_reads_a_whole_book_only_as_a_new_one(path: Path, workshop: Workshop) -> None:
    with pytest.raises(CommandError, match="There is a book Port Ellery already"):
        call_command("import_book", str(path), "--create", book="Port Ellery")
    with pytest.raises(CommandError, match="Give --create"):
        call_command("import_book", str(path), book="A copy")
    with pytest.raises(CommandError, match="There is no workshop with a book Nowhere"):
        call_command("export_book", str(path), book="Nowhere")


def test_a_place_that_cannot_be_written_is_a_sentence(workshop: Workshop, tmp_path: Path) -> None:
    with pytest.raises(CommandError, match="cannot be written"):
        call_command("export_book", str(tmp_path / "missing" / "x.zip"), book="Port Ellery")


def test_without_pictures_the_photo_is_there_and_its_file_is_missing(path: Path, tmp_path: Path) -> None:
    take(path, "Port Ellery")
    call_command("export_book", str(tmp_path / "x.zip"), "--without-pictures", book="Port Ellery", stdout=io.StringIO())
    with zipfile.ZipFile(tmp_path / "x.zip") as file:
        assert [name for name in file.namelist() if name.startswith("photos/")] == []
        assert len(file.read("photos.csv").splitlines()) == 2


@given(st.text(max_size=12))
def test_a_text_comes_back_from_a_csv_as_it_was(text: str) -> None:
    written = "".join(csv_of(["a", "b"], [[guarded(text), "x"]]))
    assert unguarded(list(csv.reader(io.StringIO(written, newline="")))[1][0]) == text


def test_the_readme_lists_every_file_and_column() -> None:
    rows = {line for line in README.read_text().splitlines() if line.startswith("| `")}
    assert rows == {
        f"| `{one.name}.csv` | {one.what} | {', '.join(f'`{column}`' for column in one.columns)} |" for one in TABLES
    }, "name a new column in the README, or leave it out of the file in `whole/tables.py`"


def test_no_password_and_no_secret_goes_out() -> None:
    columns = {column for table in TABLES for column in table.columns}
    assert {name for name in columns if re.search("pass|pin|secret|token", name)} == set()
