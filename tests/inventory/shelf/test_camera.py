"""A picture that is sent: what is taken and what is refused, and that nothing but the picture is kept."""

import hashlib
import struct
from io import BytesIO
from typing import Any

import pillow_heif
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from hypothesis import given
from hypothesis import strategies as st
from PIL import ExifTags, Image, ImageDraw, ImageFile, ImageOps

from inventory.measure.figures import NARROW
from inventory.shelf.camera import LONGEST_SIDE, NotAPicture, read_picture
from tests.inventory.shelf.pictures import BLUE, RED, image, is_near, opened, png_head, read, saved, with_place


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
        (
            png_head(30_000, 30_000),
            f"30{NARROW}000 by 30{NARROW}000 pixels, 900 million; at most 26 million",
        ),
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


def scene() -> Image.Image:
    """A picture with something in it: a bright disc before rings of grey."""
    one = Image.radial_gradient("L").rotate(20, expand=False).resize((640, 480)).convert("RGB")
    ImageDraw.Draw(one).ellipse((360, 60, 600, 300), fill=(250, 240, 220))
    return one


@pytest.mark.parametrize("size", [(640, 480), (320, 240), (200, 150)])
@pytest.mark.parametrize("quality", [95, 30])
def test_the_look_stays_however_a_picture_is_saved(size: tuple[int, int], quality: int) -> None:
    first = int(read(saved(scene())).look, 16)
    again = int(read(saved(scene().resize(size), quality=quality)).look, 16)
    assert (first ^ again).bit_count() <= 3
    other = int(read(saved(ImageOps.mirror(scene()))).look, 16)
    assert (first ^ other).bit_count() > 10


def test_a_picture_of_one_colour_has_no_look() -> None:
    assert read(saved(image())).look == ""


def noted(**tags: str) -> bytes:
    notes = Image.Exif()
    inner = notes.get_ifd(ExifTags.IFD.Exif)
    for name, value in tags.items():
        inner[getattr(ExifTags.Base, name)] = value
    return saved(image(), exif=notes)


@pytest.mark.parametrize(
    ("tags", "taken"),
    [
        ({"DateTimeOriginal": "2025:03:04 08:30:00"}, "2025-03-04T08:30:00"),
        ({"DateTimeOriginal": "2025:03:04 08:30:00", "OffsetTimeOriginal": "+02:00"}, "2025-03-04T08:30:00+02:00"),
        ({"DateTimeOriginal": "2025:03:04 08:30:00", "OffsetTimeOriginal": "nowhere"}, "2025-03-04T08:30:00"),
        ({"DateTimeOriginal": "1970:01:01 00:00:00"}, None),
        ({"DateTimeOriginal": "yesterday"}, None),
        ({}, None),
    ],
)
def test_when_it_was_taken_is_read_before_the_notes_go(tags: dict[str, str], taken: str | None) -> None:
    picture = read(noted(**tags))
    assert (picture.taken_at.isoformat() if picture.taken_at else None) == taken
    assert b"2025:03:04" not in picture.content
