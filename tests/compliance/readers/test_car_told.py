"""What the owner of a converted car reads: the worked scenario of a full car, through its pages."""

import re
from datetime import timedelta
from uuid import uuid4

from django.test import Client
from django.utils import timezone

from compliance.papers.ownerlink import path_of
from compliance.readers import owners
from shop.demo import story
from shop.models import Customer, Vehicle, Visit
from tests.scenarios import conftest as port_ellery
from tests.scenarios import year
from tests.scenarios.shop_floor import Floor

# Port Ellery on the morning of 1 January 2025, with its pages to press.
entered, floor, furnished = port_ellery.entered, port_ellery.floor, port_ellery.furnished
DAYS = timedelta(days=1)


def seen(client: Client, address: str) -> str:
    answer = client.get(address)
    assert answer.status_code == 200
    return re.sub(r"\s+", " ", answer.content.decode().replace("\N{NARROW NO-BREAK SPACE}", " "))


def test_a_converted_car_is_told_in_plain_words(floor: Floor, client: Client) -> None:
    year.opening(floor, "C-12")
    year.play(floor, story.A_BOTTLE_COMES)
    year.play(floor, story.A_FULL_CAR_IS_CONVERTED)
    visit = Visit.objects.get(vehicle__registration="V1")
    somebody = Customer.objects.create(workshop=floor.workshop, name="Aldous Penrake", phone="555 0167")
    Vehicle.objects.filter(registration="V1").update(customer=somebody)
    people = {visit.steps.first().doer, *(step.answers for step in visit.steps.all() if step.answers)}
    link = owners.make(visit, ends_at=timezone.now() + DAYS, on_paper=True, by=people.copy().pop(), key=uuid4())
    text = seen(client, path_of(link))
    for words in (
        "V1, hatchback, 1992",
        "868 g, give or take 4.2 g, of R-12",
        "into a cylinder of the workshop, as recovered gas: used before, not cleaned; kept there",
        "784 g, give or take 1.9 g, of R-134a",
        "virgin: never used before",
        "Since this visit your car carries R-134a.",
        "No fast leak was seen.",
        "a leak that empties the system in",
        "No leak larger than 5.4 kg a year of R-134a: the pressure held",
        "it does not leak fast",
        "Have it opened, emptied and filled only by people who are certified for it.",
        "Photo of the new label".lower(),
        floor.workshop.address.splitlines()[0],
    ):
        assert words in text
    assert text.count('<svg xmlns="http://www.w3.org/2000/svg" class="drawing"') == 3
    for hidden in ("Penrake", "555 0167", "C-12", "C-34", *map(str, people), *(one.handle for one in people)):
        assert hidden not in text
    assert "1 lb 11.7 oz (784 g)" in seen(client, f"{path_of(link)}?units=us")
    assert "784 g" in seen(client, f"{path_of(link)}?units=nonsense")


def test_gas_that_went_away_is_not_said_to_be_kept(floor: Floor, client: Client) -> None:
    year.opening(floor, "C-12")
    year.play(floor, story.A_BOTTLE_COMES)
    year.play(floor, story.A_FULL_CAR_IS_CONVERTED)
    year.play(floor, story.GAS_GOES_TO_BE_DESTROYED)
    visit = Visit.objects.get(vehicle__registration="V1")
    link = owners.make(visit, ends_at=timezone.now() + DAYS, on_paper=True, by=visit.steps.first().doer, key=uuid4())
    text = seen(client, path_of(link))
    assert "what it held went away from there to be destroyed on 2025-11-20" in text
    assert "kept there" not in text
    assert "ND-7741" not in text
