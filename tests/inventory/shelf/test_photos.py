"""Photos: sealed in the chain, what is not as it was sealed, and who may see them."""

import hashlib
import re
from collections.abc import Callable
from datetime import datetime, timedelta
from io import BytesIO, StringIO
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import CommandError, call_command
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from PIL import Image

from inventory.acts import onscale
from inventory.book import audit
from inventory.book.refusals import NotReversible, RequestKeyReused, WrongLine, WrongTime
from inventory.book.weighing import Gross
from inventory.models import Entry, Photo
from inventory.shelf import photos
from tests.inventory.book.lines import undo_line
from tests.inventory.shelf.pictures import BLUE, GREY, RED, image, png_head, read, saved, with_place

HOME = "/w/port-ellery/"
pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def media(settings: Any, tmp_path: Path) -> Path:
    settings.MEDIA_ROOT = tmp_path / "media"
    return tmp_path / "media"


@pytest.fixture
def line(book: Any, cylinder: Any, scale: Any, act: Any) -> Entry:
    """A line with a weighing."""
    return onscale.weigh(book, act(), Gross(cylinder, scale, 11_200_000, "11.2 kg"))


@pytest.fixture
def add(book: Any, act: Any) -> Callable[..., Photo]:
    def make(content: bytes | None = None, **of: Any) -> Photo:
        asked = of.pop("act", None) or act()
        return photos.add_photo(book, asked, read(content or saved(image())), **{"shows": "scale", **of})

    return make


def test_a_photo_is_a_file_and_a_line_that_seals_its_digest(
    book: Any, line: Entry, add: Callable[..., Photo], media: Path
) -> None:
    photo = add(line=line)
    kept = (media / "photos" / str(book.uid) / photo.digest[:2] / f"{photo.digest}.jpg").read_bytes()
    assert hashlib.sha256(kept).hexdigest() == photo.digest == photo.entry.seals
    assert (photo.width, photo.height, photo.size) == (60, 40, len(kept))
    assert photo.entry.kind == Entry.SEAL
    assert photo.entry.context == f"photo:line:{line.seq}"
    assert not photo.entry.movements.exists()
    book.refresh_from_db()
    assert (book.head_seq, book.head_digest) == (photo.entry.seq, photo.entry.digest)
    assert [*audit.faults(book)] == []
    assert [*photos.faults(book)] == []
    assert [one.name for one in (media / "photos").rglob("*.part")] == []


def test_the_same_form_sent_twice_is_one_photo(line: Entry, add: Callable[..., Photo], act: Any) -> None:
    asked = act(uuid4())
    assert add(line=line, act=asked) == add(line=line, act=asked)
    assert Photo.objects.count() == 1
    for other in ({"line": line, "shows": "label"}, {"line": line, "content": saved(image(colour=RED))}):
        with pytest.raises(RequestKeyReused):
            add(act=asked, **other)


def test_a_photo_is_of_one_thing_of_its_own_book(
    add: Callable[..., Photo], line: Entry, cylinder: Any, sister_book: Any, make_cylinder: Any, account: Any, book: Any
) -> None:
    far = make_cylinder("FAR", book=sister_book)
    wrong = [
        {},
        {"line": line, "account": cylinder.account},
        {"account": far.account},
        {"account": account("air")},
        {"context": "visit:1"},
        {"context": "nothing"},
        {"line": line, "shows": "the weather"},
    ]
    book.refresh_from_db()
    for of in wrong:
        with pytest.raises(WrongLine):
            add(**of)
    head = book.head_seq
    book.refresh_from_db()
    assert (book.head_seq, Photo.objects.count()) == (head, 0)


def test_without_a_folder_for_it_nothing_is_written(
    line: Entry, add: Callable[..., Photo], media: Path, book: Any
) -> None:
    media.write_text("a file where the folder should be")
    with pytest.raises(photos.NotKept, match="could not be kept"):
        add(line=line)
    book.refresh_from_db()
    assert (book.head_seq, Photo.objects.count()) == (line.seq, 0)


def test_a_line_that_is_not_written_leaves_no_photo(
    line: Entry, add: Callable[..., Photo], now: datetime, act: Any
) -> None:
    with pytest.raises(WrongTime):
        add(line=line, act=act(at=now + timedelta(days=2)))
    assert not Photo.objects.exists()


def test_a_photo_added_later_says_by_how_many_days(
    book: Any, cylinder: Any, scale: Any, act: Any, add: Callable[..., Photo], now: datetime, reader_client: Client
) -> None:
    old = onscale.weigh(book, act(at=now - timedelta(days=40)), Gross(cylinder, scale, 11_200_000, "11.2 kg"))
    photo = add(line=old)
    assert [one.days_late for one in photos.of_line(old)] == [40]
    assert "added 40 days later" in reader_client.get(f"{HOME}lines/{old.seq}/").content.decode()
    assert "40 days after what it shows" in reader_client.get(f"{HOME}lines/{photo.entry.seq}/").content.decode()


def test_a_photo_within_a_day_is_in_time(line: Entry, add: Callable[..., Photo]) -> None:
    add(line=line)
    assert [one.days_late for one in photos.of_line(line)] == [0]


def test_a_seal_is_said_in_words_and_is_not_reversed(
    line: Entry, add: Callable[..., Photo], owner_client: Client, act: Any
) -> None:
    photo = add(line=line)
    words = f"Seals a photo of a scale, for line {line.seq}"
    assert words in owner_client.get(f"{HOME}lines/").content.decode()
    page = owner_client.get(f"{HOME}lines/{photo.entry.seq}/").content.decode()
    assert words in page
    assert photo.digest in page
    assert "Reverse line" not in page
    with pytest.raises(NotReversible):
        undo_line(photo.entry, act())


def test_the_list_of_lines_asks_no_more_for_many_photos(
    line: Entry, add: Callable[..., Photo], owner_client: Client
) -> None:
    def asked() -> int:
        with CaptureQueriesContext(connection) as found:
            owner_client.get(f"{HOME}lines/")
        return len(found)

    add(line=line)
    few = asked()
    for colour in range(6):
        add(saved(image(colour=(colour, 0, 0))), line=line)
    assert asked() == few


# What is not as it was sealed


def test_a_changed_and_a_lost_file_are_named(line: Entry, add: Callable[..., Photo], book: Any) -> None:
    changed, lost, sound = (add(saved(image(colour=colour)), line=line) for colour in (RED, BLUE, GREY))
    path = photos.path_of(book, changed.digest)
    content = bytearray(path.read_bytes())
    content[-10] ^= 1
    path.write_bytes(bytes(content))
    photos.path_of(book, lost.digest).unlink()
    assert [str(fault) for fault in photos.faults(book)] == [
        f"photo of line {changed.entry.seq}: is not what was sealed: its file was changed or cannot be read",
        f"photo of line {lost.entry.seq}: has lost its file",
    ]
    assert photos.content_of(changed) is None
    assert photos.content_of(sound) is not None


def test_a_row_changed_by_hand_is_named(
    line: Entry, add: Callable[..., Photo], book: Any, cylinder: Any, make_cylinder: Any
) -> None:
    photo, other = add(line=line), add(saved(image(colour=RED)), account=cylinder.account)
    rows = Photo.objects.filter(pk=photo.pk)
    rows.update(digest=other.digest)
    assert [fault.words for fault in photos.faults(book)] == ["names another picture than its line seals"]
    rows.update(digest=photo.digest, line=None, context="visit:1/step:1")
    assert [fault.words for fault in photos.faults(book)] == ["is beside another thing than its line says"]
    rows.delete()
    assert [str(fault) for fault in photos.faults(book)] == [
        f"photo of line {photo.entry.seq}: is not in the book; the line seals it"
    ]


def test_a_removed_photo_keeps_its_line_and_its_digest(
    line: Entry,
    add: Callable[..., Photo],
    cylinder: Any,
    book: Any,
    owner_client: Client,
    django_capture_on_commit_callbacks: Any,
) -> None:
    photo, same = add(line=line), add(account=cylinder.account)
    stays = add(saved(image(colour=RED)), line=line)
    path = photos.path_of(book, photo.digest)
    with django_capture_on_commit_callbacks(execute=True):
        photos.remove_file(photo)
        assert path.exists()  # until the transaction ends
    assert not path.exists()
    assert photo.removed_at is not None
    same.refresh_from_db()
    assert same.removed_at == photo.removed_at  # the same picture, added twice
    assert [*photos.faults(book)] == []
    assert photos.content_of(stays) is not None
    at = f"{HOME}photos/{photo.entry.seq}/"
    assert owner_client.get(at).status_code == 404
    page = owner_client.get(f"{HOME}lines/{photo.entry.seq}/").content.decode()
    assert "its digest stays" in page
    assert photo.digest in page
    assert "its digest stays" in owner_client.get(f"{HOME}cylinders/{cylinder.account.number}/").content.decode()
    add(line=line)  # added once more it is a photo of its own; the removed ones stay removed
    assert path.exists()
    assert owner_client.get(at).status_code == 404
    assert [*photos.faults(book)] == []


def test_a_removed_file_that_is_still_there_is_named(line: Entry, add: Callable[..., Photo], book: Any) -> None:
    photo = add(line=line)
    photos.remove_file(photo)  # this test's transaction never ends, so the file stays
    assert [fault.words for fault in photos.faults(book)] == ["was removed, yet its file is still there"]


# Pages


def upload(content: bytes | None = None, name: str = "photo.jpg") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, with_place(image()) if content is None else content, "image/jpeg")


@pytest.fixture
def to_line(line: Entry) -> str:
    return f"{HOME}lines/{line.seq}/photo/"


@pytest.mark.parametrize("field", ["photo", "file"])
def test_a_photo_is_added_through_the_page(
    technician_client: Client, technician: Any, line: Entry, to_line: str, field: str
) -> None:
    form = technician_client.get(to_line).content.decode()
    assert 'enctype="multipart/form-data"' in form
    assert 'accept="image/*" capture="environment"' in form
    answer = technician_client.post(to_line, {"key": str(uuid4()), "shows": "scale", field: upload()})
    assert (answer.status_code, answer["Location"]) == (303, f"{HOME}lines/{line.seq}/")
    photo = Photo.objects.get()
    assert (photo.line, photo.shows, photo.entry.actor) == (line, "scale", technician.handle)
    page = technician_client.get(answer["Location"]).content.decode()
    assert f"{HOME}photos/{photo.entry.seq}/small/" in page
    assert "Photo of a scale" in page


def test_the_form_pressed_twice_writes_once_and_says_so(technician_client: Client, to_line: str) -> None:
    key = str(uuid4())
    for _ in range(2):
        answer = technician_client.post(to_line, {"key": key, "shows": "scale", "photo": upload()})
        assert answer.status_code == 303
    assert Photo.objects.count() == 1
    other = {"key": key, "shows": "scale", "photo": upload(saved(image(colour=RED)))}
    assert technician_client.post(to_line, other).status_code == 409
    assert Photo.objects.count() == 1


@pytest.mark.parametrize(
    ("sent", "words"),
    [
        ({}, "Take a photo, or choose one."),
        ({"photo": b""}, "The file is empty"),
        ({"photo": b"words"}, "not a type this can read"),
        ({"file": b"\0\0\0\x18ftypheic\0\0\0\0"}, "begins like a picture"),
        ({"photo": saved(image()) + b"\0" * 13_000_000}, "13.1 MB; at most 12 MB are taken"),
        ({"photo": png_head(9_000, 9_000)}, "at most 26 million are taken"),
        ({"photo": saved(image()), "file": saved(image())}, "Two photos came"),
        ({"photo": saved(image()), "shows": "the weather"}, "A browser cannot keep a file"),
        ({"photo": saved(image()), "occurred_at": "2999-01-01 10:00"}, "A browser cannot keep a file"),
    ],
)
def test_what_cannot_be_taken_is_said_beside_the_field_and_the_rest_stays(
    technician_client: Client, to_line: str, sent: dict[str, Any], words: str
) -> None:
    files = {name: upload(content) for name, content in sent.items() if isinstance(content, bytes)}
    answer = technician_client.post(to_line, {"key": str(uuid4()), "shows": "paper", **sent, **files})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert words in page
    assert "To put right: Add a photo to line" in page
    assert "shows" in sent or re.search(r'<input[^>]*value="paper"[^>]*checked', page)
    assert not Photo.objects.exists()


def test_a_cylinder_shows_its_photos(technician_client: Client, cylinder: Any) -> None:
    at = f"{HOME}cylinders/{cylinder.account.number}/"
    assert "Add a photo" in technician_client.get(at).content.decode()
    answer = technician_client.post(f"{at}photo/", {"key": str(uuid4()), "shows": "plate", "photo": upload()})
    assert (answer.status_code, answer["Location"]) == (303, at)
    page = technician_client.get(at).content.decode()
    assert "Photo of a plate" in page
    assert Photo.objects.get().entry.context == f"photo:cylinder:{cylinder.account.number}"


def test_a_line_without_a_weighing_takes_no_photo(
    technician_client: Client, line: Entry, add: Callable[..., Photo]
) -> None:
    seal = add(line=line).entry
    assert technician_client.get(f"{HOME}lines/{seal.seq}/photo/").status_code == 404
    assert f"lines/{seal.seq}/photo/" not in technician_client.get(f"{HOME}lines/{seal.seq}/").content.decode()


def test_a_reader_sees_a_photo_and_cannot_add_one(
    line: Entry, add: Callable[..., Photo], reader_client: Client, to_line: str
) -> None:
    photo = add(line=line)
    answer = reader_client.get(f"{HOME}photos/{photo.entry.seq}/")
    assert answer.status_code == 200
    assert hashlib.sha256(answer.content).hexdigest() == photo.digest
    assert answer["Content-Type"] == "image/jpeg"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Cache-Control"].startswith("private")
    assert answer["Content-Disposition"].startswith("inline")
    small = reader_client.get(f"{HOME}photos/{photo.entry.seq}/small/")
    assert Image.open(BytesIO(small.content)).format == "JPEG"
    page = reader_client.get(f"{HOME}lines/{line.seq}/").content.decode()
    assert "Photo of a scale" in page
    assert "Add a photo" not in page
    for method in ("get", "post"):
        assert getattr(reader_client, method)(to_line).status_code == 403


def test_a_stranger_finds_no_photo_under_any_workshop(
    line: Entry, add: Callable[..., Photo], stranger_client: Client, client: Client
) -> None:
    seq = add(line=line).entry.seq
    for at in (f"photos/{seq}/", f"photos/{seq}/small/", f"lines/{line.seq}/photo/"):
        assert stranger_client.get(HOME + at).status_code == 404
        assert stranger_client.get(f"/w/highmoor/{at}").status_code == 404
        assert client.get(HOME + at).status_code == 302


def test_no_open_address_leads_to_the_files(
    line: Entry, add: Callable[..., Photo], book: Any, owner_client: Client
) -> None:
    digest = add(line=line).digest
    for start in ("/media/", "/static/", "/"):
        assert owner_client.get(f"{start}photos/{book.uid}/{digest[:2]}/{digest}.jpg").status_code == 404


def test_a_photo_that_was_had_before_is_not_sent_again(
    line: Entry, add: Callable[..., Photo], reader_client: Client
) -> None:
    at = f"{HOME}photos/{add(line=line).entry.seq}/"
    tag = reader_client.get(at)["ETag"]
    again = reader_client.get(at, headers={"if-none-match": tag})
    assert (again.status_code, again.content) == (304, b"")


def test_a_changed_file_is_not_handed_over_and_its_line_says_so(
    line: Entry, add: Callable[..., Photo], book: Any, reader_client: Client
) -> None:
    photo = add(line=line)
    photos.path_of(book, photo.digest).write_bytes(saved(image(colour=RED)))
    for at in (f"photos/{photo.entry.seq}/", f"photos/{photo.entry.seq}/small/"):
        assert reader_client.get(HOME + at).status_code == 404
    page = reader_client.get(f"{HOME}lines/{photo.entry.seq}/").content.decode()
    assert "is not what this line seals" in page


def test_verify_names_a_photo_whose_file_was_changed(book: Any, line: Entry, add: Callable[..., Photo]) -> None:
    photo = add(line=line)
    call_command("verify", stdout=StringIO())
    path = photos.path_of(book, photo.digest)
    path.write_bytes(path.read_bytes() + b"x")
    with pytest.raises(CommandError, match=f"photo.*{photo.entry.seq}|line {photo.entry.seq}"):
        call_command("verify", stdout=StringIO())
