"""Two records of one vehicle or partner: joined without touching a line, read as one, parted again."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client

from compliance.findings import gathering
from compliance.findings.judging import refresh
from compliance.matching import lists
from compliance.models import Finding
from compliance.statement.figures import read_statement
from compliance.statement.sums import vehicle_holdings
from inventory.book.refusals import LedgerError
from inventory.book.weighing import Gross
from inventory.models import Entry, Movement
from shop.models import Customer, Joining, Vehicle, Visit
from shop.people import joining, privacy, vehicles
from shop.visits import proofs
from shop.visits.acts import gas_in, gas_out
from shop.visits.acts.entering import StepFacts
from shop.visits.gas import FromVehicle, held_in
from shop.visits.log import with_log
from tests.answers import read_back, words

HOME = "/w/port-ellery/"
DAY = datetime.now(UTC).replace(hour=9, minute=0, second=0, microsecond=0) - timedelta(days=500)
TODAY = (DAY + timedelta(days=500)).date()
G = 1000


@pytest.fixture
def floor(arrive: Any, technician: Any, act: Any, make_cylinder: Any, scale: Any) -> Any:
    """A workshop's floor on which visits are played by hand: open, recover, charge."""

    class Floor:
        source = make_cylinder("S", mass_mg=8_000 * G)
        waste = make_cylinder("W", kind="recovery", refrigerant="R-134a", grade="recovered")

        def visit(self, vehicle: Vehicle | str, day: int) -> Visit:
            return arrive(vehicle, DAY + timedelta(days=day))

        def weighed(self, cylinder: Any, change_g: int) -> tuple[Gross, Gross]:
            held = sum(row.mass_mg for row in cylinder.account.holdings.all())
            before = cylinder.tare_mg + held
            return Gross(cylinder, scale, before, "b"), Gross(cylinder, scale, before + change_g * G, "a")

        def charge(self, visit: Visit, grams: int, hours: int = 4) -> None:
            before, after = self.weighed(self.source, -grams)
            at = act(at=visit.opened_at + timedelta(hours=hours), context=visit.context)
            gas_in.charge(visit, at, StepFacts(doer=technician), before=before, after=after)

        def recover(self, visit: Visit, grams: int) -> None:
            before, after = self.weighed(self.waste, grams)
            at = act(at=visit.opened_at + timedelta(hours=1), context=visit.context)
            gas = FromVehicle("R-134a")
            gas_out.recover(visit, at, StepFacts(doer=technician), gas=gas, before=before, after=after)

    return Floor()


@pytest.fixture
def twins(floor: Any, make_vehicle: Any) -> tuple[Vehicle, Vehicle]:
    """One car under two plates: charged with 700 g as the one, then 690 g out and 650 g in as the other."""
    kept, other = make_vehicle("KX 4471", refrigerant="R-134a", content="evacuated"), make_vehicle("kx4471")
    floor.charge(floor.visit(kept, 0), 700)
    later = floor.visit(other, 200)
    floor.recover(later, 690)
    Vehicle.objects.filter(pk=other.pk).update(content="evacuated")
    later.vehicle.refresh_from_db()
    floor.charge(later, 650)
    kept.refresh_from_db(), other.refresh_from_db()
    return kept, other


def lines() -> list[tuple[int, str]]:
    return list(Entry.objects.order_by("pk").values_list("seq", "digest"))


def pressed(client: Client, path: str, **fields: Any) -> str:
    """Return the words by which a form is read back, which is then confirmed."""
    shown, answer = read_back(client, HOME + path, **fields)
    assert answer.status_code == 303
    return words(shown)


def fresh(vehicle: Vehicle) -> Vehicle:
    return Vehicle.objects.select_related("account__joined_to__vehicle", "account__book").get(pk=vehicle.pk)


def test_joined_records_hold_what_one_record_would_hold(twins: Any, act: Any, owner: Any) -> None:
    kept, other = twins
    assert held_in(kept) == {"R-134a": 700 * G}
    before = lines()
    made = joining.join(other, kept, act(), owner)
    assert lines()[: len(before)] == before, "no line that stood is touched"
    # 690 g were found in the one while the other held 700: counted twice. 700 - 690 + 650 are inside or were lost.
    assert held_in(fresh(kept)) == {"R-134a": 660 * G}
    assert vehicles.in_vehicle_mg(fresh(kept)) == {"R-134a": 660 * G}
    assert [(one.cause, one.mass_mg) for one in made.entry.movements.all()] == [("out-of-sight", 690 * G)]
    assert fresh(kept).content == "known", "as the record with the newer line says"
    assert {one.vehicle_id for one in Visit.objects.all()} == {kept.pk}


def test_the_same_year_with_one_record_from_the_start_ends_alike(
    floor: Any, twins: Any, act: Any, owner: Any, make_vehicle: Any, make_cylinder: Any
) -> None:
    """The oracle: the same acts on one record."""
    one = make_vehicle("ONE", refrigerant="R-134a", content="evacuated")
    floor.source, floor.waste = make_cylinder("S2", mass_mg=8_000 * G), make_cylinder("W2", kind="recovery")
    floor.charge(floor.visit(one, 0), 700)
    later = floor.visit(one, 200)
    floor.recover(later, 690)
    floor.charge(later, 650)
    joining.join(twins[1], twins[0], act(), owner)
    assert held_in(fresh(twins[0])) == held_in(fresh(one))


def test_new_lines_go_to_the_kept_account_and_know_the_lines_of_both(
    floor: Any, twins: Any, act: Any, owner: Any
) -> None:
    kept, other = twins
    joining.join(other, kept, act(), owner)
    visit = floor.visit("kx-4471", 400)
    assert visit.vehicle_id == kept.pk
    floor.recover(visit, 640)
    recovered = Movement.objects.filter(cause="recovery").latest("pk")
    assert recovered.source_id == kept.account_id
    assert not Movement.objects.filter(entry=recovered.entry, cause="found-in-vehicle").exists()
    assert held_in(fresh(kept)) == {"R-134a": 20 * G}
    fetched = with_log(Visit.objects.filter(pk=visit.pk)).get()
    assert [one.mass_mg for one in proofs.charges_before(fetched)] == [650 * G, 700 * G]
    entry = vehicles.out_of_sight(fresh(kept), act(remark="scrapped"))
    assert entry.movements.get().mass_mg == 20 * G
    assert held_in(fresh(kept)) == {}


def test_statement_and_facts_count_one_vehicle(twins: Any, act: Any, owner: Any, workshop: Any, book: Any) -> None:
    kept, other = twins
    period = {"first": DAY.date(), "last": TODAY, "basis": "AR4"}

    def told() -> tuple[Any, Any, Any]:
        book.refresh_from_db()
        report = read_statement(book, **period)
        return report, vehicle_holdings(report), gathering.facts_of(workshop, TODAY)

    apart, held_apart, facts_apart = told()
    joining.join(other, kept, act(at=DAY + timedelta(days=210)), owner)
    one, held, facts = told()
    assert (apart.activity.vehicles, one.activity.vehicles) == (2, 1)
    assert [(each.label, each.mass_mg) for each in held_apart] == [("KX 4471", 700 * G), ("kx4471", 650 * G)]
    assert [(each.label, each.mass_mg) for each in held] == [("KX 4471", 660 * G)]
    assert {visit.vehicle.number for visit in facts.visits} == {kept.account.number}
    assert [visit.previous_charge_on for visit in facts_apart.visits] == [None, None]
    assert [visit.previous_charge_on for visit in facts.visits] == [None, DAY.date()]
    assert [flow.mass_mg for flow in one.refrigerants[0].flows] == [
        flow.mass_mg for flow in apart.refrigerants[0].flows
    ]
    assert apart.refrigerants[0].vehicles_closing_mg == 1_350 * G
    assert one.refrigerants[0].vehicles_closing_mg == 660 * G


def test_findings_are_judged_again_by_one_history(twins: Any, act: Any, owner: Any, workshop: Any) -> None:
    def topped_up() -> list[str]:
        refresh(workshop, anyway=True)
        found = Finding.objects.filter(workshop=workshop, rule="book-topped-up", state="open")
        return list(found.values_list("about", flat=True))

    assert topped_up() == []
    joining.join(twins[1], twins[0], act(), owner)
    assert topped_up() == ["visit:2"]


def test_they_are_parted_again_and_all_is_as_before(twins: Any, act: Any, owner: Any) -> None:
    kept, other = twins
    joining.join(other, kept, act(), owner)
    joining.part(fresh(other), act())
    assert (held_in(fresh(kept)), held_in(fresh(other))) == ({"R-134a": 700 * G}, {"R-134a": 650 * G})
    assert [one.vehicle_id for one in Visit.objects.order_by("number")] == [kept.pk, other.pk]
    assert fresh(kept).content == kept.content
    assert not Joining.objects.exists()
    with pytest.raises(LedgerError, match="stands by itself"):
        joining.part(fresh(other), act())


def test_a_visit_that_went_on_under_the_kept_record_stays_there(floor: Any, twins: Any, act: Any, owner: Any) -> None:
    kept, other = twins
    joining.join(other, kept, act(), owner)
    floor.charge(Visit.objects.get(number=2), 30, hours=6)
    joining.part(fresh(other), act())
    assert Visit.objects.get(number=2).vehicle_id == kept.pk


def test_what_cannot_be_joined_is_refused(twins: Any, act: Any, owner: Any, make_vehicle: Any) -> None:
    kept, other = twins
    third = make_vehicle("AB 1")
    with pytest.raises(LedgerError, match="this very record"):
        joining.join(kept, kept, act(), owner)
    joining.join(other, kept, act(), owner)
    for one, to, why in (
        (third, other, "joined to KX 4471 itself"),
        (other, third, "joined to KX 4471 already"),
        (kept, third, "Others are joined"),
    ):
        with pytest.raises(LedgerError, match=why):
            joining.join(fresh(one), fresh(to), act(), owner)


def test_the_owner_joins_and_parts_them_on_their_pages(
    owner_client: Client, technician_client: Client, twins: Any
) -> None:
    kept, other = twins
    there, at = f"vehicles/{kept.account.number}/", f"vehicles/{other.account.number}/"
    assert technician_client.get(f"{HOME}{at}join/").status_code == 403
    assert "looks like this vehicle" in words(technician_client.get(HOME + there))
    nobody = owner_client.post(f"{HOME}{at}join/", {"key": str(uuid4()), "plate": "ZZ 9"})
    assert "No other vehicle in the book has the plate ZZ 9" in words(nobody)
    shown = pressed(owner_client, f"{at}join/", kept=str(kept.account.number))
    assert "690 g R-134a was found in one of them while the other one held it" in shown
    assert Joining.objects.count() == 1
    page = words(owner_client.get(HOME + there))
    assert "660 g R-134a" in page
    assert "Joined to it:" in page
    assert "looks like this vehicle" not in page
    for said in ("Charged 0.700 kg", "Charged 0.650 kg", "visit 1", "visit 2"):
        assert said in page
    joined = words(owner_client.get(HOME + at))
    assert "This record is joined to" in joined
    listed = words(owner_client.get(HOME + "vehicles/"))
    assert "KX 4471" in listed
    assert "kx4471" not in listed
    assert owner_client.get(HOME + "search/", {"q": "kx4471"})["Location"] == HOME + there
    pressed(owner_client, f"{at}part/")
    assert not Joining.objects.exists()


def test_a_plate_names_the_kept_record(owner_client: Client, make_vehicle: Any) -> None:
    kept, other = make_vehicle("KX 4471"), make_vehicle("NEW 1")
    pressed(owner_client, f"vehicles/{other.account.number}/join/", plate="kx4471")
    assert fresh(other).account.joined_to_id == kept.account_id
    assert Joining.objects.get().entry is None, "nothing was counted twice, so nothing is written"


def test_removing_a_customer_forgets_the_joined_record_too(workshop: Any, twins: Any, act: Any, owner: Any) -> None:
    kept, other = twins
    person = Customer.objects.create(workshop=workshop, name="Ada Invented")
    Vehicle.objects.filter(pk=kept.pk).update(customer=person)
    joining.join(other, kept, act(), owner)
    assert [one["registration"] for one in privacy.customer_data(person)["vehicles"]] == ["KX 4471", "kx4471"]
    privacy.remove_customer(person)
    for one in twins:
        assert (fresh(one).registration, fresh(one).vin_likeness) == (f"vehicle {one.account.number}", "")
        assert fresh(one).account.label == f"vehicle {one.account.number}"


def test_two_records_of_one_partner_are_read_as_one(
    owner_client: Client, make_partner: Callable[..., Any], make_cylinder: Any, post: Any
) -> None:
    kept, other = make_partner("Northgas"), make_partner("North Gas Ltd")
    for partner, mass_mg in ((kept, 5_000 * G), (other, 7_000 * G)):
        post("purchase", partner.account, make_cylinder(partner.name).account, mass_mg, basis="paper")
    pressed(owner_client, f"partners/{other.account.number}/join/", kept=str(kept.account.number))
    kept, other = (one.__class__.objects.get(pk=one.pk) for one in (kept, other))
    assert other.account.joined_to_id == kept.account_id
    ours = lists.ours_of(kept, date(2000, 1, 1), date(2100, 1, 1))
    assert sorted(one.mass_mg for one in ours) == [5_000 * G, 7_000 * G]
    page = words(owner_client.get(f"{HOME}partners/{kept.account.number}/"))
    assert "Joined to it:" in page
    assert "-5.000" in page.replace("\N{MINUS SIGN}", "-")
    listed = words(owner_client.get(HOME + "partners/"))
    assert "North Gas Ltd" not in listed
    assert "North Gas Ltd" not in words(owner_client.get(HOME + "cylinders/receive/"))
    assert "This record is joined to" in words(owner_client.get(f"{HOME}partners/{other.account.number}/"))
    pressed(owner_client, f"partners/{other.account.number}/part/")
    assert other.__class__.objects.get(pk=other.pk).account.joined_to_id is None
