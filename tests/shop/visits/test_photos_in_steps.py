"""Photos in a step's own form: written with the step or not at all, once, and evidence like any other photo."""

from datetime import datetime
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from compliance.findings.gathering import facts_of
from inventory.book import audit
from inventory.models import Photo
from inventory.pages.forms.photos import MOST_AT_ONCE
from inventory.shelf import photos
from shop.models import Step, Visit
from shop.visits.log import log_of, open_points
from shop.visits.proofs import evidence_of
from tests.shop.visits.looking import SEA_LEVEL_PA, Make, fetched, picture

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("media")]
HOME = "/w/port-ellery/"
AGAIN = "Take or choose the photos again"


def of(content: bytes, name: str = "IMG_1.jpg") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, content, "image/jpeg")


@pytest.fixture
def visit(arrive: Any, make_vehicle: Any) -> Visit:
    car = make_vehicle(refrigerant="R-12", volume_m3=0.0022, oil_g=200.0, nameplate_mg=None)
    return arrive(car, state="runs")


STOOD = {"pressure": "0 bar", **dict.fromkeys(("air", "coldest", "warmest"), "24 C")}


def test_several_photos_are_sealed_with_the_step_and_count_at_once(
    enter: Make, visit: Visit, technician: Any, technician_client: Client, book: Any
) -> None:
    taken = {"photos": [picture(1), picture(2)], "photos_chosen": picture(3)}
    assert enter("standing-pressure", **STOOD, **taken).status_code == 303
    step = Step.objects.get(kind="standing pressure")
    found = Photo.objects.order_by("entry__seq")
    assert {(one.context, one.shows) for one in found} == {(f"visit:{visit.number}/step:{step.pk}", "gauge")}
    assert len({one.entry.seq for one in found}) == 3
    assert {one.entry.actor for one in found} == {technician.handle}
    assert evidence_of(fetched(visit), SEA_LEVEL_PA).letter == "A"
    page = technician_client.get(f"{HOME}visits/{visit.number}/").content.decode()
    assert all(f"{HOME}photos/{one.entry.seq}/small/" in page for one in found)
    assert [*audit.faults(book), *photos.faults(book)] == []


def test_a_form_sent_twice_keeps_a_step_and_its_photos_once_and_a_photo_that_comes_later_is_not_lost(
    enter: Make,
) -> None:
    key = str(uuid4())
    for shades in ((1,), (1,), (1, 2)):
        sent = {**STOOD, "photos": [picture(shade) for shade in shades]}
        assert enter("standing-pressure", key=key, **sent).status_code == 303
    assert Step.objects.filter(kind="standing pressure").count() == 1
    assert Photo.objects.count() == 2


@pytest.mark.parametrize(
    ("files", "words"),
    [
        ([of(b"")], "The file is empty: 0 bytes came"),
        ([of(b"%PDF-1.7 words", "scan.pdf")], "Send a photo as JPEG, PNG, WebP or HEIC"),
        ([of(picture(side=400).read()[:-300])], "cut short or damaged"),
        ([picture(1), of(b"words", "b.jpg")], "Photo 2 (b.jpg): This is not a type"),
        ([picture(shade) for shade in range(MOST_AT_ONCE + 1)], "7 photos came; at most 6 are taken at once"),
    ],
)
def test_a_photo_that_is_not_taken_is_said_beside_the_field_and_nothing_is_written(
    enter: Make, files: list[Any], words: str
) -> None:
    answer = enter("standing-pressure", **{**STOOD, "pressure": "0.125 bar"}, photos=files)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert words in page
    assert AGAIN in page
    assert 'value="0.125 bar"' in page
    assert not Step.objects.filter(kind="standing pressure").exists()
    assert not Photo.objects.exists()


def test_what_else_is_wrong_says_that_the_photos_are_to_be_chosen_again(enter: Make) -> None:
    answer = enter("standing-pressure", **{**STOOD, "pressure": "high"}, photos=picture())
    assert (answer.status_code, AGAIN in answer.content.decode()) == (422, True)
    assert AGAIN not in enter("standing-pressure", **{**STOOD, "pressure": "high"}).content.decode()


def test_a_disk_that_takes_no_photo_leaves_no_step_behind(enter: Make, media: Path) -> None:
    media.write_bytes(b"no folder")
    answer = enter("standing-pressure", **STOOD, photos=picture())
    assert answer.status_code == 422
    assert "nothing was written" in answer.content.decode()
    assert not Step.objects.filter(kind="standing pressure").exists()
    assert not Photo.objects.exists()


def test_a_visit_starts_with_photos_of_the_open_circuit(
    technician_client: Client, technician: Any, workshop: Any
) -> None:
    sent = {"key": str(uuid4()), "doer": technician.handle, "registration": "KX 4471", "state": "hose off"}
    for _ in range(2):
        assert technician_client.post(f"{HOME}visits/new/", {**sent, "photos": picture()}).status_code == 303
    [photo], visit = Photo.objects.all(), Visit.objects.get()
    assert photo.context == f"visit:{visit.number}/step:{visit.steps.get().pk}"
    assert evidence_of(fetched(visit), SEA_LEVEL_PA).letter == "B"
    assert not any("photo" in point.words for point in open_points(fetched(visit), workshop.units))


def test_a_disk_that_takes_no_photo_starts_no_visit(
    technician_client: Client, technician: Any, media: Path, workshop: Any
) -> None:
    media.write_bytes(b"no folder")
    sent = {"key": str(uuid4()), "doer": technician.handle, "registration": "KX 4471", "state": "hose off"}
    answer = technician_client.post(f"{HOME}visits/new/", {**sent, "photos": picture()})
    assert (answer.status_code, Visit.objects.count()) == (422, 0)


def test_a_photo_answers_what_is_asked_and_the_log_says_where_it_is(enter: Make, visit: Visit, workshop: Any) -> None:
    def said() -> tuple[bool, str]:
        one = fetched(visit)
        asked = any("photo" in point.words for point in open_points(one, workshop.units))
        return asked, dict(log_of(one, one.workshop.units)[-1].facts)["Photo of the new label"]

    assert enter("conversion-done", to="R-134a").status_code == 303
    assert said() == (True, "not entered")
    old = Step.objects.get(kind="conversion done")
    assert enter("conversion-done", replaces=str(old.pk), to="R-134a", photos=picture()).status_code == 303
    assert said() == (False, "kept here")
    newer = Step.objects.get(replaces=old)
    assert enter("conversion-done", replaces=str(newer.pk), to="R-134a", photo="P7").status_code == 303
    assert said() == (False, "kept here and kept elsewhere: P7")


def test_a_step_entered_anew_keeps_the_photos_of_the_one_before(
    enter: Make, visit: Visit, technician_client: Client, workshop: Any, now: datetime
) -> None:
    enter("standing-pressure", **STOOD, photos=picture())
    old = Step.objects.get(kind="standing pressure")
    form = technician_client.get(f"{HOME}visits/{visit.number}/add/standing-pressure/?replaces={old.pk}")
    assert "Its photo stays with it" in form.content.decode()
    assert enter("standing-pressure", replaces=str(old.pk), **STOOD).status_code == 303
    assert evidence_of(fetched(visit), SEA_LEVEL_PA).letter == "A"
    [told] = [one for one in facts_of(workshop, now.date()).visits if one.number == visit.number]
    assert [deed.photographed for deed in told.deeds if deed.kind == "standing pressure"] == [True]


def test_what_is_left_is_settled_with_a_photo_that_is_asked_for_where_it_is_read_back(
    technician_client: Client, technician: Any, visit: Visit, post: Any, account: Any
) -> None:
    post("found-in-vehicle", account("opening"), visit.vehicle.account, 20_000, refrigerant="R-12", grade="recovered")
    at = f"{HOME}visits/{visit.number}/add/remainder-settled/"
    assert 'type="file"' not in technician_client.get(at).content.decode()
    sent = {
        "key": str(uuid4()),
        "doer": technician.handle,
        "rest": "shortfall",
        "evidence": "D: the customer’s word, or a reading without a photo",
    }
    read = technician_client.post(at, sent)
    assert 'name="photos"' in read.content.decode()
    again = {**sent, "read_back": read.context["signature"]}
    refused = technician_client.post(at, {**again, "photos": of(b"words")})
    assert (refused.status_code, Photo.objects.count()) == (422, 0)
    assert "not a type this can read" in refused.content.decode()
    assert technician_client.post(at, {**again, "photos": picture()}).status_code == 303
    step = Step.objects.get(kind="remainder settled")
    assert Photo.objects.get().context == f"visit:{visit.number}/step:{step.pk}"


def test_any_step_takes_a_photo_beside_when_and_who(enter: Make, technician_client: Client, visit: Visit) -> None:
    page = technician_client.get(f"{HOME}visits/{visit.number}/add/repair/").content.decode()
    assert "When, who, note, photos" in page
    assert 'enctype="multipart/form-data"' in page
    assert page.index("When, who, note, photos") < page.index('name="photos"')
    assert enter("repair", joint="drier inlet", what="new seal", photos=picture()).status_code == 303
    assert Photo.objects.get().shows == "joint"


def test_the_number_of_a_photo_kept_elsewhere_is_a_folded_second_way(technician_client: Client, visit: Visit) -> None:
    page = technician_client.get(f"{HOME}visits/{visit.number}/add/leak-search/").content.decode()
    assert 'accept="image/*" capture="environment" multiple' in page
    assert "each up to 12 MB" in page
    assert "A photo that is kept elsewhere</summary>" in page
