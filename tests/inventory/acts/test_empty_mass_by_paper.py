"""A cylinder on which no empty mass stands: it is reckoned from the gross and the paper, at receipt or at the first
weighing."""

from collections.abc import Callable
from math import hypot, sqrt
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client

from inventory.acts import onscale, undoing
from inventory.book import ledger, weighing
from inventory.book.draft import Draft, Line
from inventory.measure import uncertainty
from inventory.models import Cylinder, Entry, Holding, Movement, Tare, Weighing
from tests.answers import confirm, words

pytestmark = pytest.mark.django_db
RECEIVE = "/w/port-ellery/cylinders/receive/"
PAPER_MG = 13_600_000


@pytest.fixture
def box(partner: Any) -> Callable[..., dict[str, Any]]:
    def make(**fields: Any) -> dict[str, Any]:
        data = {"origin": "purchase", "kind": "single-trip", "partner": partner.account.number, "serial": "D-1"}
        data |= {"refrigerant": "R-134a", "grade": "virgin", "manner": "single", "tare": "", "tare_unit": "kg"}
        data |= {"tare_source": "not known", "tare_limit": "50", "tare_limit_unit": "g", "paper_mass": "13.600"}
        return {**data, "paper_mass_unit": "kg", "gross": "", "gross_unit": "kg", **fields}

    return make


@pytest.mark.parametrize("source", ["not known", "stamped"])
@pytest.mark.parametrize("manner", ["single", "paper"])
def test_weighed_the_empty_mass_follows_from_the_paper(
    technician_client: Client, box: Any, scale: Any, source: str, manner: str
) -> None:
    data = box(gross="16.400", scale=scale.number, manner=manner, tare_source=source)
    asked = technician_client.post(RECEIVE, {"key": str(uuid4()), **data})
    assert "reckoned from the paper: 2.800 kg, give or take" in words(asked)
    assert "What the paper says counts" in words(asked)
    assert confirm(technician_client, RECEIVE, data).status_code == 303
    made, line = Cylinder.objects.get(), Movement.objects.get()
    assert (made.tare_mg, made.tare_source) == (2_800_000, "reckoned from the paper")
    reading = uncertainty.single(weighing.of_scale(scale), 16_400, 0.0).total_g
    assert made.tare_u_mg == pytest.approx(hypot(reading, 68 / sqrt(3)) * 1000, abs=1)  # 0.5 % of 13.6 kg: 68 g
    assert (line.cause, line.basis, line.mass_mg) == ("purchase", "paper", PAPER_MG)
    weighed = Weighing.objects.get()
    assert weighed.gross_mg - weighed.tare_mg == Holding.objects.get(account=made.account).mass_mg
    assert Tare.objects.get().tare_mg == made.tare_mg
    assert "tare" not in made.typed
    page = words(technician_client.get(f"/w/port-ellery/cylinders/{made.account.number}/"))
    assert "2.800 kg, reckoned from the paper" in page


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({"gross": "16.400", "paper_mass": ""}, "Enter the empty mass, or the mass on the paper"),
        ({"gross": "", "paper_mass": ""}, "Enter the empty mass, or the mass on the paper"),
        ({"gross": "12.000"}, "its empty mass would be nothing"),
        ({"gross": "13.600"}, "its empty mass would be nothing"),
        ({"gross": "164.00"}, "16.4"),
        ({"tare": "lots"}, "lots"),
    ],
)
def test_what_cannot_be_is_said_beside_its_field(
    technician_client: Client, box: Any, scale: Any, fields: dict[str, str], sentence: str
) -> None:
    answer = confirm(technician_client, RECEIVE, box(scale=scale.number, **fields))
    assert answer.status_code == 422
    assert sentence in words(answer)
    assert not Entry.objects.exists()


def test_an_empty_mass_of_more_than_what_is_inside_is_asked_about(
    technician_client: Client, box: Any, scale: Any
) -> None:
    data = box(gross="30.000", scale=scale.number)
    asked = confirm(technician_client, RECEIVE, data)
    assert "Its empty mass would then be 16.400 kg, more than the 13.600 kg" in words(asked)
    assert confirm(technician_client, RECEIVE, {**data, "gross_reading": "=30.000 kg"}).status_code == 303


@pytest.fixture
def unweighed(technician_client: Client, box: Any) -> Cylinder:
    asked = technician_client.post(RECEIVE, {"key": str(uuid4()), **box()})
    assert "Its first weighing settles the empty mass" in words(asked)
    assert confirm(technician_client, RECEIVE, box()).status_code == 303
    made = Cylinder.objects.select_related("account__book").get()
    assert (made.tare_mg, made.tare_source, Movement.objects.get().basis) == (0, "not known", "paper")
    for at in ("", "label/", "weigh/"):
        page = words(technician_client.get(f"/w/port-ellery/cylinders/{made.account.number}/{at}"))
        assert "0.000 kg" not in page
        assert at == "weigh/" or "not known until its first weighing" in page
    return made


def test_not_weighed_the_first_weighing_settles_it(technician_client: Client, unweighed: Cylinder, scale: Any) -> None:
    at = f"/w/port-ellery/cylinders/{unweighed.account.number}/weigh/"
    sent = {"gross": "16.400", "gross_unit": "kg", "scale": scale.number}
    asked = technician_client.post(at, {"key": str(uuid4()), **sent})
    assert "Empty mass settled by this: 2.800 kg, reckoned from the paper." in words(asked)
    unweighed.refresh_from_db()
    assert unweighed.tare_mg == 0, "looking at it writes nothing"
    assert confirm(technician_client, at, sent).status_code == 303
    unweighed.refresh_from_db()
    assert (unweighed.tare_mg, unweighed.tare_source) == (2_800_000, "reckoned from the paper")
    assert [one.tare_mg for one in unweighed.tares.order_by("pk")] == [0, 2_800_000]
    assert not Movement.objects.filter(cause="weighing-difference").exists()
    assert Weighing.objects.get().tare_mg == 2_800_000


def test_a_first_reading_lighter_than_what_is_inside_is_refused(
    technician_client: Client, unweighed: Cylinder, scale: Any
) -> None:
    at = f"/w/port-ellery/cylinders/{unweighed.account.number}/weigh/"
    answer = confirm(technician_client, at, {"gross": "9.500", "gross_unit": "kg", "scale": scale.number})
    assert "its empty mass would be nothing" in words(answer)
    with pytest.raises(weighing.BelowTare):
        onscale.preview(unweighed.account.book, weighing.Gross(unweighed, scale, 9_500_000, "9.5 kg"))


def test_a_pair_settles_it_by_the_reading_before_and_a_reversal_puts_it_back(
    book: Any, act: Any, unweighed: Cylinder, scale: Any, make_cylinder: Any
) -> None:
    def build(draft: Draft) -> None:
        gained = weighing.settle(draft, weighing.Gross(unweighed, scale, 16_400_000, "16.4 kg"), Weighing.BEFORE)
        assert gained.difference_mg == 0
        assert weighing.passed(draft, weighing.Gross(unweighed, scale, 15_900_000, "15.9 kg"))[0] == -500_000
        draft.move(Line("purge", unweighed.account, draft.account("air"), "R-134a", "virgin", 500_000, "pair", 1, 0))

    entry = ledger.write(book, act(), build)
    unweighed.refresh_from_db()
    assert unweighed.tare_mg == 2_800_000
    assert Holding.objects.get(account=unweighed.account).mass_mg == 13_100_000
    undoing.reverse(book, act(), entry)
    unweighed.refresh_from_db()
    assert unweighed.lacks_tare


def test_a_reversal_below_a_later_weighing_leaves_the_empty_mass(
    book: Any, act: Any, unweighed: Cylinder, scale: Any
) -> None:
    first = onscale.weigh(book, act(), weighing.Gross(unweighed, scale, 16_400_000, "16.4 kg"))
    onscale.weigh(book, act(), weighing.Gross(unweighed, scale, 16_400_000, "16.4 kg"))
    undoing.reverse(book, act(), first)
    unweighed.refresh_from_db()
    assert unweighed.tare_mg == 2_800_000
