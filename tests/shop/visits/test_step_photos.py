"""Photos of a visit's steps and of vehicles: evidence where they came in time, and the pages that show them."""

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from inventory.book import audit
from inventory.models import Gauge, Photo
from inventory.shelf import photos
from inventory.shelf.camera import read_picture
from shop.models import Step, Visit
from shop.visits.log import open_points, with_log
from shop.visits.proofs import evidence_of
from shop.visits.verdicts import around, told_of
from tests.shop.visits.looking import SEA_LEVEL_PA, Make, fetched, picture

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("media")]
HOME = "/w/port-ellery/"


@pytest.fixture
def gauge(book: Any) -> Gauge:
    return Gauge.objects.create(book=book, name="G1", kind="pressure gauge", step=10_000.0)


@pytest.fixture
def visit(arrive: Any, make_vehicle: Any) -> Visit:
    return arrive(make_vehicle(refrigerant="R-12", volume_m3=0.0022, oil_g=200.0, nameplate_mg=None))


@pytest.fixture
def stood(technician_client: Client, technician: Any, visit: Visit, gauge: Gauge) -> Callable[..., Step]:
    """Write that the car stood at nothing on the gauge, 24 C everywhere."""

    def make(**fields: Any) -> Step:
        sent = {
            "key": str(uuid4()),
            "doer": technician.handle,
            "pressure": "0 bar",
            "gauge": str(gauge.pk),
            **dict.fromkeys(("ambient", "coldest", "warmest"), "24 C"),
            **fields,
        }
        answer = technician_client.post(f"{HOME}visits/{visit.number}/add/standing-pressure/", sent)
        assert answer.status_code == 303, answer.content.decode()
        return Step.objects.filter(kind="standing pressure").latest("pk")

    return make


@pytest.fixture
def add(technician_client: Client, visit: Visit) -> Make:
    def send(step: Step, shade: int = 120, **fields: Any) -> Any:
        at = f"{HOME}visits/{visit.number}/steps/{step.pk}/photo/"
        return technician_client.post(at, {"key": str(uuid4()), "shows": "gauge", "photo": picture(shade), **fields})

    return send


def letter(visit: Visit) -> str:
    """Return the class of evidence that a visit's log reaches."""
    return evidence_of(fetched(visit), SEA_LEVEL_PA).letter


def sentence(visit: Visit) -> str:
    """Return what the log says of the standing pressure."""
    whole = fetched(visit)
    told = told_of(around(whole, whole.workshop.units))
    return next(told[step.pk].sentence for step in whole.steps.all() if step.kind == "standing pressure")


def test_a_photo_within_a_day_makes_a_standing_pressure_evidence_a(
    visit: Visit, stood: Callable[..., Step], add: Make
) -> None:
    step = stood()
    assert letter(visit) != "A"
    assert add(step).status_code == 303
    assert letter(visit) == "A"
    assert sentence(visit).startswith("Arrived empty; what speaks for it: standing pressure read and photographed")


def test_the_number_of_a_photo_kept_elsewhere_still_counts_as_stated(visit: Visit, stood: Callable[..., Step]) -> None:
    stood(photo="P7")
    assert letter(visit) == "A"


def test_a_photo_that_came_more_than_a_day_later_is_no_witness(
    visit: Visit, stood: Callable[..., Step], clock: Any, now: datetime, act: Any, book: Any
) -> None:
    step = stood()
    before = letter(visit)
    later = clock(now + timedelta(days=3))
    photos.add_photo(book, act(at=later), read_picture(picture()), shows="gauge", context=step.context)
    assert letter(visit) == before != "A"
    [one] = photos.shown(photos.of_visit(visit.workshop.book, visit.context)[step.context], step.occurred_at)
    assert one.days_late == 3


def test_a_photo_of_a_step_written_40_days_late_is_no_witness_either(
    visit: Visit, stood: Callable[..., Step], add: Make, now: datetime
) -> None:
    step = stood(photo="P7", occurred_at=(now - timedelta(days=40)).strftime("%Y-%m-%d %H:%M"))
    add(step)
    assert letter(visit) == "D"


def test_a_photo_of_another_step_or_of_another_workshop_is_no_witness(
    visit: Visit, stood: Callable[..., Step], add: Make, sister_book: Any, act: Any
) -> None:
    step = stood()
    before = letter(visit)
    add(visit.steps.get(kind="received"))
    read = read_picture(picture(7))
    photos.add_photo(sister_book, act(), read, shows="gauge", context=f"visit:{visit.number}/step:{step.pk}")
    assert letter(visit) == before != "A"


def test_a_removed_photo_was_still_written_in_time(visit: Visit, stood: Callable[..., Step], add: Make) -> None:
    add(stood())
    photos.remove_file(Photo.objects.get())
    assert letter(visit) == "A"


def test_the_visit_shows_its_photos_each_at_its_step(
    visit: Visit, stood: Callable[..., Step], add: Make, technician_client: Client, book: Any
) -> None:
    step = stood()
    page = f"{HOME}visits/{visit.number}/"
    at = f"{page}steps/{step.pk}/photo/"
    assert at in technician_client.get(page).content.decode()
    answer = add(step)
    assert answer["Location"] == page
    photo = Photo.objects.get()
    assert photo.context == f"visit:{visit.number}/step:{step.pk}"
    assert photo.entry.context == f"photo:visit:{visit.number}/step:{step.pk}"
    text = technician_client.get(page).content.decode()
    own = text.partition(f'id="step-{step.pk}"')[2].partition('id="step-')[0]
    assert f"{HOME}photos/{photo.entry.seq}/small/" in own
    assert text.count(f"{HOME}photos/{photo.entry.seq}/small/") == 1
    assert f'<a href="{HOME}photos/{photo.entry.seq}/"><img' in own  # the small one leads to the large one
    line = technician_client.get(f"{HOME}lines/{photo.entry.seq}/").content.decode()
    assert f"Seals a photo of a gauge, for visit {visit.number}" in line
    assert f'href="{page}#step-{step.pk}"' in line
    assert [*audit.faults(book), *photos.faults(book)] == []


def test_a_visit_with_many_photos_asks_no_more(
    visit: Visit, stood: Callable[..., Step], add: Make, technician_client: Client
) -> None:
    def asked() -> int:
        with CaptureQueriesContext(connection) as found:
            technician_client.get(f"{HOME}visits/{visit.number}/")
        return len(found)

    step = stood()
    add(step)
    technician_client.get(f"{HOME}visits/{visit.number}/")  # the word that it was written is said once
    few = asked()
    for shade in range(5):
        add(step, shade)
        add(visit.steps.get(kind="received"), shade)
    technician_client.get(f"{HOME}visits/{visit.number}/")
    assert asked() == few


def test_fetching_logs_costs_as_many_queries_with_photos_as_without(
    visit: Visit, stood: Callable[..., Step], add: Make, workshop: Any
) -> None:
    def asked() -> int:
        with CaptureQueriesContext(connection) as found:
            for one in with_log(Visit.objects.filter(workshop=workshop)):
                open_points(one, workshop.units)
                evidence_of(one, SEA_LEVEL_PA)
        return len(found)

    step = stood()
    few = asked()
    add(step)
    add(step, 7)
    assert asked() == few


def test_a_vehicle_shows_its_photos(visit: Visit, technician_client: Client, reader_client: Client) -> None:
    at = f"{HOME}vehicles/{visit.vehicle.account.number}/"
    form = technician_client.get(f"{at}photo/").content.decode()
    assert "the plate or the stamp" in form
    sent = {"key": str(uuid4()), "shows": "label", "photo": picture()}
    answer = technician_client.post(f"{at}photo/", sent)
    assert (answer.status_code, answer["Location"]) == (303, at)
    assert "Photo of a label" in reader_client.get(at).content.decode()
    assert "Add a photo" not in reader_client.get(at).content.decode()
    assert reader_client.post(f"{at}photo/", sent).status_code == 403
    assert Photo.objects.get().account == visit.vehicle.account


def test_a_step_of_another_visit_or_workshop_is_not_found(
    visit: Visit, technician_client: Client, stranger_client: Client, workshop: Any, technician: Any, arrive: Any
) -> None:
    step = visit.steps.get()
    other = arrive(visit.vehicle)
    wrong = f"visits/{other.number}/steps/{step.pk}/photo/"
    assert technician_client.get(HOME + wrong).status_code == 404
    assert technician_client.post(HOME + wrong, {"key": str(uuid4())}).status_code == 404
    right = f"visits/{visit.number}/steps/{step.pk}/photo/"
    assert technician_client.get(HOME + right).status_code == 200
    assert stranger_client.get(HOME + right).status_code == 404
    assert stranger_client.get(f"/w/highmoor/{right}").status_code == 404


def test_a_reader_sees_the_photos_of_a_visit_and_is_not_asked_for_any(
    visit: Visit, stood: Callable[..., Step], add: Make, reader_client: Client
) -> None:
    step = stood()
    add(step)
    page = reader_client.get(f"{HOME}visits/{visit.number}/").content.decode()
    assert "Photo of a gauge" in page
    assert "Add a photo" not in page
    assert reader_client.get(f"{HOME}visits/{visit.number}/steps/{step.pk}/photo/").status_code == 403
