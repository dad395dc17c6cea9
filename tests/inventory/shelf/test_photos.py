"""Photos: what is taken and what is refused, that nothing but the picture is kept, the chain, and who may see them."""

import hashlib
import re
import struct
import zlib
from collections.abc import Callable
from datetime import datetime, timedelta
from io import BytesIO, StringIO
from pathlib import Path
from typing import Any
from uuid import uuid4

import pillow_heif
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import CommandError, call_command
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from hypothesis import given
from hypothesis import strategies as st
from PIL import ExifTags, Image, ImageFile

from inventory.acts import onscale
from inventory.book import audit, ledger
from inventory.book.refusals import NotReversible, RequestKeyReused, WrongLine, WrongTime
from inventory.book.weighing import Gross
from inventory.models import Entry, Photo
from inventory.shelf import photofiles, photos
from inventory.shelf.camera import LONGEST_SIDE, NotAPicture, Picture, read_picture

HOME = "/w/port-ellery/"
RED, BLUE, GREY = (200, 20, 20), (20, 20, 200), (120, 120, 120)


@pytest.fixture(autouse=True)
def media(settings: Any, tmp_path: Path) -> Path:
    settings.MEDIA_ROOT = tmp_path / "media"
    return tmp_path / "media"


def image(width: int = 60, height: int = 40, colour: tuple[int, ...] = GREY, mode: str = "RGB") -> Image.Image:
    return Image.new(mode, (width, height), colour)


def saved(one: Image.Image, kind: str = "JPEG", **options: Any) -> bytes:
    out = BytesIO()
    one.save(out, kind, **options)
    return out.getvalue()


def read(content: bytes) -> Picture:
    return read_picture(BytesIO(content))


def opened(picture: Picture) -> Image.Image:
    return Image.open(BytesIO(picture.content))


def is_near(found: Any, colour: tuple[int, ...]) -> bool:
    """Whether a pixel is a colour, as far as JPEG keeps it."""
    return all(abs(one - other) < 25 for one, other in zip(found, colour, strict=True))


def with_place(one: Image.Image, **more: Any) -> bytes:
    """Return a JPEG that says where, when and with what it was taken, in every way that a camera has."""
    notes = Image.Exif()
    notes[ExifTags.Base.Make] = "Camera maker"
    notes[ExifTags.Base.DateTime] = "2025:03:04 10:58:00"
    place = notes.get_ifd(ExifTags.IFD.GPSInfo)
    place[ExifTags.GPS.GPSLatitudeRef], place[ExifTags.GPS.GPSLatitude] = "N", (51.0, 30.0, 0.0)
    place[ExifTags.GPS.GPSLongitudeRef], place[ExifTags.GPS.GPSLongitude] = "W", (0.0, 7.0, 0.0)
    kept = {"exif": notes, "comment": b"taken at home", "icc_profile": b"a profile", "dpi": (300, 300), **more}
    return saved(one, **kept)


# --- what is kept ---------------------------------------------------------------------------------------------


def test_nothing_but_the_picture_is_kept() -> None:
    sent = with_place(image(), xmp=b"<x:xmpmeta>somebody</x:xmpmeta>")
    before = Image.open(BytesIO(sent))
    assert before.getexif().get_ifd(ExifTags.IFD.GPSInfo)[ExifTags.GPS.GPSLatitude] == (51.0, 30.0, 0.0)
    assert {"exif", "comment", "icc_profile", "dpi", "xmp"} <= set(before.info)
    picture = read(sent)
    after = opened(picture)
    assert dict(after.getexif()) == {}
    assert set(after.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
    for word in (b"Camera maker", b"2025:03:04", b"taken at home", b"a profile", b"somebody", b"Exif", b"ICC_PROFILE"):
        assert word in sent
        assert word not in picture.content


def test_notes_in_png_and_webp_go_as_well() -> None:
    from PIL.PngImagePlugin import PngInfo

    note = PngInfo()
    note.add_text("Author", "somebody")
    notes = Image.Exif()
    notes[ExifTags.Base.Artist] = "somebody"
    for sent in (saved(image(), "PNG", pnginfo=note, exif=notes), saved(image(), "WEBP", exif=notes)):
        assert b"somebody" in sent
        picture = read(sent)
        assert opened(picture).format == "JPEG"
        assert b"somebody" not in picture.content


# The place of the red corner in a picture that is stored unturned, by the value that a camera writes; Exif 2.3, 4.6.4,
# tag 274: which edge of what is seen row 0 and column 0 are.
SEEN_AT = {1: (0, 0), 2: (1, 0), 3: (1, 1), 4: (0, 1), 5: (0, 0), 6: (1, 0), 7: (1, 1), 8: (0, 1)}


@pytest.mark.parametrize("orientation", SEEN_AT)
def test_a_picture_stands_upright_however_the_camera_was_held(orientation: int) -> None:
    one = image(64, 32, BLUE)
    one.paste(RED, (0, 0, 16, 16))
    notes = Image.Exif()
    notes[ExifTags.Base.Orientation] = orientation
    picture = read(saved(one, exif=notes, quality=95, subsampling=0))
    size = (64, 32) if orientation <= 4 else (32, 64)
    assert (picture.width, picture.height) == opened(picture).size == size
    right, down = SEEN_AT[orientation]
    seen = opened(picture)
    corners = {(x, y): seen.getpixel((x * (size[0] - 1), y * (size[1] - 1))) for x in (0, 1) for y in (0, 1)}
    assert [place for place, colour in corners.items() if is_near(colour, RED)] == [(right, down)]


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_the_longest_side_has_at_most_2048_pixels(kind: str) -> None:
    picture = read(saved(image(4000, 1000), kind))
    assert (picture.width, picture.height) == (2048, 512)
    assert opened(picture).size == (2048, 512)


def test_a_small_picture_is_not_made_larger() -> None:
    assert (read(saved(image(60, 40))).width, read(saved(image(60, 40))).height) == (60, 40)


def test_what_shows_through_is_white_and_sixteen_bits_of_grey_stay_grey() -> None:
    clear = opened(read(saved(image(8, 8, (0, 0, 0, 0), "RGBA"), "PNG")))
    assert is_near(clear.getpixel((4, 4)), (255, 255, 255))
    deep = Image.new("I;16", (8, 8), 0x8000)
    assert is_near(opened(read(saved(deep, "PNG"))).getpixel((4, 4)), (128, 128, 128))


def test_the_digest_is_of_the_bytes_as_kept() -> None:
    picture = read(saved(image()))
    assert picture.digest == hashlib.sha256(picture.content).hexdigest()
    assert read(saved(image())).digest == picture.digest


# --- what is refused ------------------------------------------------------------------------------------------


def png_head(width: int, height: int) -> bytes:
    """Return a PNG of some ten bytes that says it is huge."""

    def chunk(name: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    body = chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"\0" * 1000)) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + body


def jpeg_head(width: int, height: int) -> bytes:
    """Return a JPEG that says it is larger than it is."""
    content = saved(image())
    at = content.index(b"\xff\xc0") + 5  # the frame: marker, length, bits, then height and width
    return content[:at] + struct.pack(">HH", height, width) + content[at + 4 :]


def heic(width: int, height: int, **options: Any) -> bytes:
    """Return a picture as phones keep it: blue, its left half red."""
    one = image(width, height, BLUE)
    one.paste(RED, (0, 0, width // 2, height))
    out = BytesIO()
    pillow_heif.from_pillow(one).save(out, quality=30, **options)
    return out.getvalue()


def heic_head(width: int, height: int) -> bytes:
    """Return such a picture that says it is larger than it is."""
    content = heic(400, 300)
    return content.replace(struct.pack(">II", 400, 300), struct.pack(">II", width, height))


def test_a_picture_as_phones_keep_it_is_read_and_knows_no_place_then() -> None:
    noted = Image.Exif()
    noted[ExifTags.Base.Make] = "Camera of Somebody"
    noted[ExifTags.Base.Orientation] = 6
    picture = read(heic(640, 480, exif=noted.tobytes()))
    assert picture.content.startswith(b"\xff\xd8\xff")
    assert b"Somebody" not in picture.content
    assert not opened(picture).getexif()
    assert (picture.width, picture.height) == (480, 640)  # turned as the camera was held
    assert is_near(opened(picture).getpixel((240, 20)), RED)
    assert is_near(opened(picture).getpixel((240, 620)), BLUE)


def test_a_camera_picture_of_twelve_million_pixels_is_taken_and_reduced() -> None:
    grains = Image.effect_noise((1_000, 750), 90).resize((4_000, 3_000)).convert("RGB")
    content = saved(grains, quality=97)
    assert 5_000_000 < len(content) < 12_000_000
    picture = read(content)
    assert (picture.width, picture.height) == (LONGEST_SIDE, LONGEST_SIDE * 3 // 4)
    assert len(picture.content) < len(content) / 2


def test_a_picture_cut_short_is_refused_after_a_pdf_was_made_too(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ImageFile, "LOAD_TRUNCATED_IMAGES", True)  # as the library that makes PDFs leaves it
    with pytest.raises(NotAPicture, match="cut short"):
        read(saved(image(600, 400))[:-400])
    assert ImageFile.LOAD_TRUNCATED_IMAGES is True


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "The file is empty: 0 bytes came"),
        (b"%PDF-1.7 something", "not a type this can read. Send a photo as JPEG, PNG, WebP or HEIC"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "not a type this can read"),
        (saved(image(), "GIF"), "not a type this can read"),
        (saved(image(), "BMP"), "not a type this can read"),
        (b"\0\0\0\x18ftypheic\0\0\0\0mif1heic", "begins like a picture"),
        (heic(400, 300)[:-40], "cut short or damaged"),
        (heic_head(5_200, 5_200), "27 million; at most 26 million are taken of this type"),
        (b"\xff\xd8\xff\xe0 no picture at all", "begins like a picture"),
        (b"\x89PNG\r\n\x1a\n no picture at all", "begins like a picture"),
        (b"RIFF\x10\0\0\0WEBP no picture at all", "begins like a picture"),
        (saved(image(400, 300))[:-900], "cut short or damaged"),
        (saved(image(400, 300), "PNG")[:-40], "cut short or damaged"),
        (png_head(30_000, 30_000), "30,000 by 30,000 pixels, 900 million; at most 26 million"),
        (png_head(5_200, 5_200), "27 million; at most 26 million are taken of this type"),
        (jpeg_head(9_000, 9_000), "81 million; at most 64 million are taken of this type"),
        (saved(image()) + b"\0" * 12_000_000, r"The file has 12\.1 MB; at most 12 MB are taken"),
    ],
)
def test_what_is_no_photo_is_refused_in_a_sentence(content: bytes, words: str) -> None:
    with pytest.raises(NotAPicture, match=words):
        read(content)


def test_the_name_of_a_file_says_nothing_of_what_it_is() -> None:
    assert read_picture(SimpleUploadedFile("notes.txt", saved(image()), "text/plain")).width == 60
    with pytest.raises(NotAPicture):
        read_picture(SimpleUploadedFile("photo.jpg", b"plain words", "image/jpeg"))


@pytest.mark.filterwarnings("ignore::UserWarning")  # damaged notes beside the picture are told to the log
@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
@given(where=st.floats(0.0, 0.999), byte=st.integers(0, 255), cut=st.booleans())
def test_a_damaged_file_is_read_or_refused_and_never_a_fault(kind: str, where: float, byte: int, cut: bool) -> None:
    whole = bytearray(with_place(image()) if kind == "JPEG" else saved(image(), kind))
    at = int(where * len(whole))
    whole[at] = byte
    try:
        picture = read(bytes(whole[:at] if cut else whole))
    except NotAPicture:
        return
    assert max(picture.width, picture.height) <= LONGEST_SIDE


# --- the book -------------------------------------------------------------------------------------------------

pytest_db = pytest.mark.django_db


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


@pytest_db
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


@pytest_db
def test_the_same_form_sent_twice_is_one_photo(line: Entry, add: Callable[..., Photo], act: Any) -> None:
    asked = act(uuid4())
    assert add(line=line, act=asked) == add(line=line, act=asked)
    assert Photo.objects.count() == 1
    for other in ({"line": line, "shows": "label"}, {"line": line, "content": saved(image(colour=RED))}):
        with pytest.raises(RequestKeyReused):
            add(act=asked, **other)


@pytest_db
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


@pytest_db
def test_without_a_folder_for_it_nothing_is_written(
    line: Entry, add: Callable[..., Photo], media: Path, book: Any
) -> None:
    media.write_text("a file where the folder should be")
    with pytest.raises(photofiles.NotKept, match="could not be kept"):
        add(line=line)
    book.refresh_from_db()
    assert (book.head_seq, Photo.objects.count()) == (line.seq, 0)


@pytest_db
def test_a_line_that_is_not_written_leaves_no_photo(
    line: Entry, add: Callable[..., Photo], now: datetime, act: Any
) -> None:
    with pytest.raises(WrongTime):
        add(line=line, act=act(at=now + timedelta(days=2)))
    assert not Photo.objects.exists()


@pytest_db
def test_a_photo_added_later_says_by_how_many_days(
    book: Any, cylinder: Any, scale: Any, act: Any, add: Callable[..., Photo], now: datetime, reader_client: Client
) -> None:
    old = onscale.weigh(book, act(at=now - timedelta(days=40)), Gross(cylinder, scale, 11_200_000, "11.2 kg"))
    photo = add(line=old)
    assert [one.days_late for one in photos.of_line(old)] == [40]
    assert "added 40 days later" in reader_client.get(f"{HOME}lines/{old.seq}/").content.decode()
    assert "40 days after what it shows" in reader_client.get(f"{HOME}lines/{photo.entry.seq}/").content.decode()


@pytest_db
def test_a_photo_within_a_day_is_in_time(line: Entry, add: Callable[..., Photo]) -> None:
    add(line=line)
    assert [one.days_late for one in photos.of_line(line)] == [0]


@pytest_db
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
        ledger.reverse(photo.entry, act())


@pytest_db
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


# --- what is not as it was sealed -----------------------------------------------------------------------------


@pytest_db
def test_a_changed_and_a_lost_file_are_named(line: Entry, add: Callable[..., Photo], book: Any) -> None:
    changed, lost, sound = (add(saved(image(colour=colour)), line=line) for colour in (RED, BLUE, GREY))
    path = photofiles.path_of(book, changed.digest)
    content = bytearray(path.read_bytes())
    content[-10] ^= 1
    path.write_bytes(bytes(content))
    photofiles.path_of(book, lost.digest).unlink()
    assert [str(fault) for fault in photos.faults(book)] == [
        f"photo of line {changed.entry.seq}: is not what was sealed: its file was changed or cannot be read",
        f"photo of line {lost.entry.seq}: has lost its file",
    ]
    assert photofiles.content_of(changed) is None
    assert photofiles.content_of(sound) is not None


@pytest_db
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


@pytest_db
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
    path = photofiles.path_of(book, photo.digest)
    with django_capture_on_commit_callbacks(execute=True):
        photos.remove_file(photo)
        assert path.exists()  # until the transaction ends
    assert not path.exists()
    assert photo.removed_at is not None
    same.refresh_from_db()
    assert same.removed_at == photo.removed_at  # the same picture, added twice
    assert [*photos.faults(book)] == []
    assert photofiles.content_of(stays) is not None
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


@pytest_db
def test_a_removed_file_that_is_still_there_is_named(line: Entry, add: Callable[..., Photo], book: Any) -> None:
    photo = add(line=line)
    photos.remove_file(photo)  # this test's transaction never ends, so the file stays
    assert [fault.words for fault in photos.faults(book)] == ["was removed, yet its file is still there"]


# --- pages ----------------------------------------------------------------------------------------------------


def upload(content: bytes | None = None, name: str = "photo.jpg") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, with_place(image()) if content is None else content, "image/jpeg")


@pytest.fixture
def to_line(line: Entry) -> str:
    return f"{HOME}lines/{line.seq}/photo/"


@pytest_db
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


@pytest_db
def test_the_form_pressed_twice_writes_once_and_says_so(technician_client: Client, to_line: str) -> None:
    key = str(uuid4())
    for _ in range(2):
        answer = technician_client.post(to_line, {"key": key, "shows": "scale", "photo": upload()})
        assert answer.status_code == 303
    assert Photo.objects.count() == 1
    other = {"key": key, "shows": "scale", "photo": upload(saved(image(colour=RED)))}
    assert technician_client.post(to_line, other).status_code == 409
    assert Photo.objects.count() == 1


@pytest_db
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


@pytest_db
def test_a_cylinder_shows_its_photos(technician_client: Client, cylinder: Any) -> None:
    at = f"{HOME}cylinders/{cylinder.account.number}/"
    assert "Add a photo" in technician_client.get(at).content.decode()
    answer = technician_client.post(f"{at}photo/", {"key": str(uuid4()), "shows": "plate", "photo": upload()})
    assert (answer.status_code, answer["Location"]) == (303, at)
    page = technician_client.get(at).content.decode()
    assert "Photo of a plate" in page
    assert Photo.objects.get().entry.context == f"photo:cylinder:{cylinder.account.number}"


@pytest_db
def test_a_line_without_a_weighing_takes_no_photo(
    technician_client: Client, line: Entry, add: Callable[..., Photo]
) -> None:
    seal = add(line=line).entry
    assert technician_client.get(f"{HOME}lines/{seal.seq}/photo/").status_code == 404
    assert f"lines/{seal.seq}/photo/" not in technician_client.get(f"{HOME}lines/{seal.seq}/").content.decode()


@pytest_db
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


@pytest_db
def test_a_stranger_finds_no_photo_under_any_workshop(
    line: Entry, add: Callable[..., Photo], stranger_client: Client, client: Client
) -> None:
    seq = add(line=line).entry.seq
    for at in (f"photos/{seq}/", f"photos/{seq}/small/", f"lines/{line.seq}/photo/"):
        assert stranger_client.get(HOME + at).status_code == 404
        assert stranger_client.get(f"/w/highmoor/{at}").status_code == 404
        assert client.get(HOME + at).status_code == 302


@pytest_db
def test_no_open_address_leads_to_the_files(
    line: Entry, add: Callable[..., Photo], book: Any, owner_client: Client
) -> None:
    digest = add(line=line).digest
    for start in ("/media/", "/static/", "/"):
        assert owner_client.get(f"{start}photos/{book.uid}/{digest[:2]}/{digest}.jpg").status_code == 404


@pytest_db
def test_a_photo_that_was_had_before_is_not_sent_again(
    line: Entry, add: Callable[..., Photo], reader_client: Client
) -> None:
    at = f"{HOME}photos/{add(line=line).entry.seq}/"
    tag = reader_client.get(at)["ETag"]
    again = reader_client.get(at, headers={"if-none-match": tag})
    assert (again.status_code, again.content) == (304, b"")


@pytest_db
def test_a_changed_file_is_not_handed_over_and_its_line_says_so(
    line: Entry, add: Callable[..., Photo], book: Any, reader_client: Client
) -> None:
    photo = add(line=line)
    photofiles.path_of(book, photo.digest).write_bytes(saved(image(colour=RED)))
    for at in (f"photos/{photo.entry.seq}/", f"photos/{photo.entry.seq}/small/"):
        assert reader_client.get(HOME + at).status_code == 404
    page = reader_client.get(f"{HOME}lines/{photo.entry.seq}/").content.decode()
    assert "is not what this line seals" in page


@pytest_db
def test_verify_names_a_photo_whose_file_was_changed(book: Any, line: Entry, add: Callable[..., Photo]) -> None:
    photo = add(line=line)
    call_command("verify", stdout=StringIO())
    path = photofiles.path_of(book, photo.digest)
    path.write_bytes(path.read_bytes() + b"x")
    with pytest.raises(CommandError, match=f"photo.*{photo.entry.seq}|line {photo.entry.seq}"):
        call_command("verify", stdout=StringIO())
