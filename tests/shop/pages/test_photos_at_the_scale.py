"""Photos on the pages of a leg and of a reading: sealed with what was read, or nothing is written."""

from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from PIL import Image

from inventory.book import audit
from inventory.models import Entry, Photo, Weighing
from inventory.shelf import photos
from shop.models import Step, Visit

pytestmark = pytest.mark.django_db
HOME = "/w/port-ellery/"
AGAIN = "Take or choose the photos again"


def picture(shade: int = 120) -> SimpleUploadedFile:
    out = BytesIO()
    Image.new("RGB", (40, 40), (shade, shade, shade)).save(out, "JPEG")
    return SimpleUploadedFile("IMG_1.jpg", out.getvalue(), "image/jpeg")


def words_alone() -> SimpleUploadedFile:
    return SimpleUploadedFile("IMG_1.jpg", b"words", "image/jpeg")


@pytest.fixture
def visit(technician_client: Client, technician: Any, make_vehicle: Callable[..., Any]) -> Visit:
    make_vehicle("V1")
    sent = {"key": str(uuid4()), "doer": technician.handle, "registration": "V1", "state": "runs"}
    technician_client.post(f"{HOME}visits/new/", sent)
    return Visit.objects.select_related("vehicle__account").get()


@pytest.fixture
def recovery(make_cylinder: Callable[..., Any]) -> Any:
    return make_cylinder("C-35", kind="recovery", grade="recovered", mass_mg=5_060_000, tare_mg=6_360_000)


@pytest.fixture
def tank(make_cylinder: Callable[..., Any]) -> Any:
    return make_cylinder("T-1", kind="machine tank", grade="recycled", mass_mg=5_200_000, machine_limit_mg=15_000)


@pytest.fixture
def lot(make_cylinder: Callable[..., Any]) -> Any:
    return make_cylinder("LOT", kind="can lot", mass_mg=4_080_000, can_count=12, can_content_mg=340_000)


@pytest.fixture
def send(technician_client: Client) -> Callable[..., Any]:
    """Send a form once, as it stands, to an address below the workshop."""
    return lambda path, sent, **files: technician_client.post(HOME + path, {**sent, **files})


@pytest.fixture
def leg(technician: Any, scale: Any, cylinder: Any, recovery: Any) -> Callable[[str], tuple[str, dict[str, str]]]:
    """Return the address and the fields of a leg by readings that were echoed, so that it is written at once."""

    def of(kind: str) -> tuple[str, dict[str, str]]:
        charge = kind == "charge"
        before, after = ("11.200", "10.650") if charge else ("11.420", "12.060")
        seen = [f"{name}={round(float(kg) * 1e6)}" for name, kg in (("before", before), ("after", after))]
        sent = {
            **{"key": str(uuid4()), "doer": technician.handle, "scale": str(scale.number), "seen": seen},
            **{"before": before, "before_unit": "kg", "after": after, "after_unit": "kg", "stopped": "done"},
        }
        where = f"charge/?source={cylinder.account.number}" if charge else f"recover/?target={recovery.account.number}"
        return f"visits/1/{where}", sent

    return of


def read_back(answer: Any, sent: dict[str, str]) -> dict[str, str]:
    """Return what the button of the read-back page sends."""
    assert b'name="read_back"' in answer.content
    return {**sent, "read_back": answer.context["signature"]}


def nothing_of(kind: str) -> bool:
    return not (Step.objects.filter(kind=kind).exists() or Photo.objects.exists())


@pytest.mark.parametrize("kind", ["charge", "recovery"])
def test_photos_of_the_scale_and_of_the_gauge_are_sealed_with_the_leg(
    visit: Visit, leg: Callable[..., Any], send: Callable[..., Any], technician_client: Client, book: Any, kind: str
) -> None:
    path, sent = leg(kind)
    form = technician_client.get(HOME + path).content.decode()
    assert 'enctype="multipart/form-data"' in form
    assert form.count('accept="image/*" capture="environment" multiple') == 2
    taken = {"photos": [picture(1), picture(2)], "gauge_photos_chosen": picture(3)}
    assert send(path, sent, **taken).status_code == 303
    step = Step.objects.get(kind=kind)
    found = Photo.objects.order_by("entry__seq")
    assert [(one.shows, one.context) for one in found] == [
        (shows, f"visit:{visit.number}/step:{step.pk}") for shows in ("scale", "scale", "gauge")
    ]
    log = technician_client.get(f"{HOME}visits/{visit.number}/").content.decode()
    assert all(f"{HOME}photos/{one.entry.seq}/small/" in log for one in found)
    assert [*audit.faults(book), *photos.faults(book)] == []


@pytest.mark.parametrize("field", ["photos", "gauge_photos"])
@pytest.mark.parametrize("kind", ["charge", "recovery"])
def test_a_file_that_is_no_photo_is_said_beside_its_field_and_no_leg_is_written(
    visit: Visit, leg: Callable[..., Any], send: Callable[..., Any], kind: str, field: str
) -> None:
    path, sent = leg(kind)
    answer = send(path, sent, **{field: words_alone()})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert list(answer.context["form"].errors) == [field]
    assert "not a type this can read" in page
    assert AGAIN in page
    assert f'value="{sent["after"]}"' in page
    assert nothing_of(kind)


@pytest.mark.parametrize("kind", ["charge", "recovery"])
def test_photos_to_be_chosen_again_are_not_folded_away(
    visit: Visit, leg: Callable[..., Any], send: Callable[..., Any], kind: str
) -> None:
    path, sent = leg(kind)
    answer = send(path, {**sent, "after": "heavy"}, photos=picture())
    assert answer.status_code == 422
    assert "<details open><summary>More: scale, how it was done" in answer.content.decode()
    assert AGAIN in answer.content.decode()


@pytest.mark.parametrize("kind", ["charge", "recovery"])
def test_a_disk_that_takes_no_photo_leaves_no_leg_behind(
    visit: Visit, leg: Callable[..., Any], send: Callable[..., Any], media: Path, kind: str
) -> None:
    media.write_bytes(b"no folder")
    path, sent = leg(kind)
    lines = Entry.objects.count()
    answer = send(path, sent, photos=picture())
    assert answer.status_code == 422
    assert "nothing was written" in answer.content.decode()
    assert nothing_of(kind)
    assert Entry.objects.count() == lines


def test_a_leg_that_is_read_back_asks_there_for_the_photos_that_came(
    visit: Visit, leg: Callable[..., Any], send: Callable[..., Any]
) -> None:
    path, sent = leg("charge")
    del sent["seen"]
    read = send(path, sent, photos=picture())
    page = read.content.decode()
    assert AGAIN in page
    assert 'enctype="multipart/form-data"' in page
    assert 'name="photos"' in page
    assert 'name="gauge_photos"' not in page
    again = read_back(read, sent)
    refused = send(path, again, photos=words_alone())
    assert (refused.status_code, nothing_of("charge")) == (422, True)
    assert send(path, again, photos=picture()).status_code == 303
    assert Photo.objects.get().context == f"visit:1/step:{Step.objects.get(kind='charge').pk}"


def test_a_leg_that_is_read_back_asks_for_no_photos_where_none_came(
    visit: Visit, leg: Callable[..., Any], send: Callable[..., Any]
) -> None:
    path, sent = leg("charge")
    del sent["seen"]
    assert 'type="file"' not in send(path, sent).content.decode()


@pytest.mark.parametrize("kind", ["charge", "recovery"])
def test_a_leg_sent_twice_keeps_its_photos_once_and_one_that_comes_later_is_not_lost(
    visit: Visit, leg: Callable[..., Any], send: Callable[..., Any], kind: str
) -> None:
    path, sent = leg(kind)
    for shades in ((1,), (1,), (1, 2)):
        assert send(path, sent, photos=[picture(shade) for shade in shades]).status_code == 303
    step = Step.objects.get(kind=kind)
    assert [one.context for one in Photo.objects.all()] == [f"visit:1/step:{step.pk}"] * 2


def test_a_photo_that_comes_too_late_and_cannot_be_kept_is_said(
    visit: Visit, leg: Callable[..., Any], send: Callable[..., Any], technician_client: Client
) -> None:
    path, sent = leg("charge")
    assert send(path, sent).status_code == 303
    assert send(path, sent, photos=words_alone()).status_code == 303
    log = technician_client.get(f"{HOME}visits/1/").content.decode()
    assert "A photo was not kept" in log
    assert "not a type this can read" in log


def test_the_same_picture_in_both_fields_is_one(
    visit: Visit, leg: Callable[..., Any], send: Callable[..., Any]
) -> None:
    path, sent = leg("charge")
    assert send(path, sent, photos=picture(), gauge_photos=picture()).status_code == 303
    assert Photo.objects.get().shows == "scale"


@pytest.mark.parametrize(
    ("source", "shown", "words"),
    [("tank", {"shown": "545"}, "Photos of the machine’s display"), ("lot", {"cans": "1"}, "Photos of the cans")],
)
def test_what_a_machine_shows_and_cans_are_photographed_too(
    request: pytest.FixtureRequest,
    visit: Visit,
    send: Callable[..., Any],
    technician: Any,
    technician_client: Client,
    source: str,
    shown: dict[str, str],
    words: str,
) -> None:
    path = f"visits/1/charge/?source={request.getfixturevalue(source).account.number}"
    assert words in technician_client.get(HOME + path).content.decode()
    sent = {"key": str(uuid4()), "doer": technician.handle, **shown}
    answer = send(path, sent, photos=picture())
    if answer.status_code == 200:
        assert AGAIN in answer.content.decode()
        answer = send(path, read_back(answer, sent), photos=picture())
    assert answer.status_code == 303
    assert Photo.objects.get().context == f"visit:1/step:{Step.objects.get(kind='charge').pk}"


def test_what_is_left_settled_again_keeps_a_photo_that_came_only_then(
    send: Callable[..., Any], technician: Any, visit: Visit, post: Callable[..., Any], account: Callable[..., Any]
) -> None:
    post("found-in-vehicle", account("opening"), visit.vehicle.account, 20_000, grade="recovered")
    sent = {
        "key": str(uuid4()),
        "doer": technician.handle,
        "rest": "shortfall",
        "evidence": "D: the customer’s word, or a reading without a photo",
    }
    path = "visits/1/add/remainder-settled/"
    again = read_back(send(path, sent), sent)
    assert send(path, again).status_code == 303
    assert not Photo.objects.exists()
    for _ in range(2):
        assert send(path, again, photos=picture()).status_code == 303
    step = Step.objects.get(kind="remainder settled")
    assert Photo.objects.get().context == f"visit:1/step:{step.pk}"


# The reading of a cylinder


@pytest.fixture
def reading(cylinder: Any, scale: Any, workshop: Any) -> Callable[..., tuple[str, dict[str, Any]]]:
    """Return the address and the fields of a reading that was echoed."""

    def of(kg: str, query: str = "", **fields: str) -> tuple[str, dict[str, Any]]:
        sent = {"key": str(uuid4()), "gross": kg, "gross_unit": "kg", "scale": str(scale.number)}
        seen = f"gross={round(float(kg) * 1e6)}"
        return f"cylinders/{cylinder.account.number}/weigh/{query}", {**sent, "seen": seen, **fields}

    return of


@pytest.mark.parametrize("query", ["", "?check"])
def test_a_reading_is_sealed_with_its_photo_once_and_seen_with_its_line(
    reading: Callable[..., Any], send: Callable[..., Any], technician_client: Client, query: str, book: Any
) -> None:
    path, sent = reading("11.200", query)
    for shades in ((1,), (1,), (1, 2)):
        assert send(path, sent, photos=[picture(shade) for shade in shades]).status_code == 303
    line = Weighing.objects.get().entry
    assert {(one.line, one.shows) for one in Photo.objects.all()} == {(line, "scale")}
    assert Photo.objects.count() == 2
    page = technician_client.get(f"{HOME}lines/{line.seq}/").content.decode()
    assert all(f"{HOME}photos/{one.entry.seq}/small/" in page for one in Photo.objects.all())
    assert [*audit.faults(book), *photos.faults(book)] == []


def test_a_reading_with_what_is_no_photo_or_cannot_be_kept_is_not_written(
    reading: Callable[..., Any], send: Callable[..., Any], media: Path
) -> None:
    path, sent = reading("11.200")
    refused = send(path, sent, photos=words_alone())
    assert refused.status_code == 422
    assert list(refused.context["form"].errors) == ["photos"]
    assert 'value="11.200"' in refused.content.decode()
    media.write_bytes(b"no folder")
    assert send(path, sent, photos=picture()).status_code == 422
    assert not Weighing.objects.exists()


def test_a_reading_that_is_read_back_asks_there_for_its_photo(
    reading: Callable[..., Any], send: Callable[..., Any]
) -> None:
    path, sent = reading("11.200")
    del sent["seen"]
    read = send(path, sent, photos=picture())
    assert AGAIN in read.content.decode()
    assert send(path, read_back(read, sent), photos=picture()).status_code == 303
    assert Photo.objects.get().line == Weighing.objects.get().entry


def test_the_second_reading_of_a_pair_is_photographed_where_nothing_moved_and_where_a_vehicle_took_it(
    visit: Visit, reading: Callable[..., Any], send: Callable[..., Any]
) -> None:
    send(*reading("11.200"))
    assert send(*reading("11.195", went="nothing"), photos=picture(1)).status_code == 303
    assert Photo.objects.get().line == Weighing.objects.latest("pk").entry
    send(*reading("11.195"))
    path, sent = reading("10.650", went="visit-1")
    answer = send(path, sent, photos=picture(2))
    if answer.status_code == 200:
        answer = send(path, read_back(answer, sent), photos=picture(2))
    assert answer.status_code == 303
    step = Step.objects.get(kind="charge")
    assert Photo.objects.latest("pk").context == f"visit:1/step:{step.pk}"


def test_a_photo_that_cannot_go_along_to_another_page_is_said(
    reading: Callable[..., Any], send: Callable[..., Any], technician_client: Client
) -> None:
    send(*reading("11.200"))
    answer = send(*reading("11.000", went="loss"), photos=picture())
    assert answer.status_code == 303
    assert "The photos were not kept" in technician_client.get(answer["Location"]).content.decode()
    assert not Photo.objects.exists()
