"""An invented workshop and its year: Port Ellery, 2025. Places, people, plates and partners do not exist.

The year is played through the same acts as a real one, with the clock moved to each day (a real book has no such way
of writing), so that every line, digest and step comes out the same every time.
"""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import date, datetime
from typing import Any
from unittest.mock import patch
from uuid import UUID, uuid5
from zoneinfo import ZoneInfo

from django.db import transaction
from django.utils import timezone
from django.utils.datastructures import MultiValueDict

from inventory.acts import away, explaining, onscale, receiving
from inventory.acts.away import Dispatch
from inventory.acts.receiving import First, FirstReading, NewCylinder
from inventory.book import ledger
from inventory.book.ledger import Act
from inventory.book.weighing import Gross
from inventory.measure.codes import ALPHABET, check_character
from inventory.models import Book, Cylinder, Entry, Gauge, Movement, Partner, Scale, Weighing
from shop.models import Certification, Customer, Membership, Step, User, Vehicle, Visit, Workshop
from shop.pages.forms.visits import Making, kept
from shop.visits.acts import entering, gas_in, gas_out
from shop.visits.acts.entering import StepFacts
from shop.visits.acts.gas_out import Remainder
from shop.visits.gas import FromVehicle
from shop.visits.kinds import BY_NAME

NAME, SLUG = "Port Ellery", "port-ellery"
LINES = 30  # entries of the whole year
SIGN_INS = ("owner", "technician", "reader")
ROOT = UUID("5f0c4e0a-6f0e-4d53-9d3c-2f1f6a1d7a10")
ZONE = ZoneInfo("Etc/GMT-2")
G, L, BAR = 1000, 1e-3, 1e5  # milligrams, cubic metres, pascal

CYLINDERS: Mapping[str, dict[str, Any]] = {
    "C-12": {"refrigerant": "R-12", "grade": "recovered", "tare": 6850, "litres": 11.9, "kind": Cylinder.RECOVERY},
    "C-35": {"refrigerant": "R-134a", "grade": "recovered", "tare": 6360, "litres": 12.0, "kind": Cylinder.RECOVERY},
    "C-41": {"refrigerant": "R-134a", "grade": "recovered", "tare": 7000, "litres": 10.0, "kind": Cylinder.RECOVERY},
    "C-42": {"refrigerant": "R-134a", "grade": "recovered", "tare": 13600, "litres": 25.0, "kind": Cylinder.RECOVERY},
    "C-40": {"refrigerant": "R-134a", "grade": "suspect", "tare": 5300, "litres": 6.0, "kind": Cylinder.RECOVERY},
    "C-37": {"refrigerant": "R-1234yf", "grade": "virgin", "tare": 3100, "litres": 4.0, "kind": Cylinder.SINGLE_TRIP},
    "C-34": {"refrigerant": "R-134a", "grade": "virgin", "tare": 6200, "litres": 12.0, "kind": Cylinder.REFILLABLE},
    "C-44": {"refrigerant": "R-134a", "grade": "virgin", "tare": 6200, "litres": 12.0, "kind": Cylinder.REFILLABLE},
    "T-1": {"refrigerant": "R-134a", "grade": "recycled", "tare": 0, "litres": None, "kind": Cylinder.TANK},
}
VEHICLES: Mapping[str, dict[str, Any]] = {
    "V1": {"make_model": "hatchback, 1992", "refrigerant": "R-12", "nameplate": 900, "litres": 2.0, "oil": 200.0},
    "V2": {"make_model": "estate, 1989", "refrigerant": "R-12", "nameplate": 1100, "litres": 2.2, "oil": 200.0},
    "V3": {"make_model": "crossover, 2019", "refrigerant": "R-1234yf", "nameplate": 480, "litres": 1.5, "oil": 110.0},
    "V4": {"make_model": "saloon, 2011", "refrigerant": "R-134a", "nameplate": 550, "litres": 1.6, "oil": 130.0},
    "V5": {"make_model": "saloon, 2012", "refrigerant": "R-134a", "nameplate": 550, "litres": 1.6, "oil": 130.0},
    "V7": {"make_model": "van, 2014", "refrigerant": "R-134a", "nameplate": 610, "litres": 1.8, "oil": 150.0},
    "V8": {"make_model": "estate, 2009", "refrigerant": "R-134a", "nameplate": 585, "litres": 1.7, "oil": 140.0},
    "V9": {"make_model": "saloon, 2010", "refrigerant": "R-134a", "nameplate": 650, "litres": 1.8, "oil": 140.0},
    "V-BUS": {"make_model": "city bus", "refrigerant": "R-134a", "nameplate": 7000, "litres": 12.0, "oil": 600.0},
}
PARTNERS = {
    "Harbour Gas Supply": ("supplier", "4 Quay Row, Port Ellery", "S-1180"),
    "Greyfen Reclaim": ("reclaimer", "Fen Works, Greyfen", "R-0042"),
    "Northmoor Destruction": ("destruction facility", "Kiln Lane 1, Northmoor", "D-0007"),
}
PEOPLE = {
    "owner": ("Maren Ostrava", "owner", False),
    "technician": ("Tobin Falk", "technician", False),
    "trainee": ("Ilse Wren", "technician", True),
    "reader": ("Corin Vale", "reader", False),
}


LABEL = {"label": "label read", "where": "under the bonnet"}
PULLED_DOWN = {
    "final_pressure": "4 inHg",
    "waited": "5 min",
    "pressure_after_wait": "3 inHg",
    "oil_out": "5 mL",
    "engine_run": "yes",
    "heat": "no",
    "stopped": "done",
}
PORTS = {"adapters": "no", "conversion_signs": "none seen", "leak_stop": "none seen"}
NEW_PART = {"condition": "new", "number": "PE-4471", "seal": "HNBR", "oil_in": "20 mL", "oil_type": "ester"}
VACUUM = {"readings": "0, 1.5 mbar; 15, 1.6 mbar; 30, 1.6 mbar", "gauge": "G2", "gauge_type": "absolute"}
SEARCHED = {"method": "electronic", "instrument": "L1", "sensitivity": "5", "gas": "refrigerant"}
LIQUID_HIGH: dict[str, Any] = {
    "phase": "liquid",
    "port": "high side",
    "stance": "upside down",
    "engine": "off",
    "hose": "pulled empty",
}
VAPOUR_LOW: dict[str, Any] = {
    "phase": "vapour",
    "port": "low side",
    "stance": "upright",
    "engine": "running",
    "hose": "pulled empty",
}
CONVERTED = {
    "to": "R-134a",
    "high_fitting": "quick coupler",
    "low_fitting": "quick coupler",
    "hoses": "barrier",
    "lubricant": "ester, 200 g",
    "drier": "new",
    "old_covered": "yes",
}
GIVEN = {"documents": "visit record", "next_look": "in a year", "signed": "yes"}


def all_at(temperature: str) -> dict[str, str]:
    """Return the temperatures of a vehicle that has stood until everything is equally warm."""
    same = dict.fromkeys(("air", "coldest", "warmest"), temperature)
    return {**same, "gauge": "G1", "since_running": "60 min"}


def moment(day: str) -> datetime:
    """Return a moment of the year from ``03-03 10:30``, workshop time (or with its year in front)."""
    text = day if day.count("-") == 2 else f"2025-{day}"
    return datetime.strptime(text, "%Y-%m-%d %H:%M").replace(tzinfo=ZONE)


@contextmanager
def present(at: datetime) -> Iterator[None]:
    """Let the book take `at` for the present."""
    with patch.object(timezone, "now", lambda: at):
        yield


class Year:
    """The workshop of the demonstration and the hands that write in it."""

    def __init__(self, password: str | None = None) -> None:
        self.password = password
        self.count = 0
        self.cylinders: dict[str, Cylinder] = {}
        self.vehicles: dict[str, Vehicle] = {}
        self.partners: dict[str, Partner] = {}
        self.people: dict[str, User] = {}
        self.visits: dict[str, Visit] = {}

    # --- the hands ---

    def key(self) -> UUID:
        """Return the next request key, the same in every run."""
        self.count += 1
        return uuid5(ROOT, str(self.count))

    def act(
        self,
        day: str,
        content: Mapping[str, Any],
        *,
        who: str = "technician",
        visit: Visit | None = None,
        remark: str = "",
    ) -> Act:
        """Return what `who` asks for on `day`."""
        return Act(
            key=self.key(),
            actor=self.people[who].handle,
            occurred_at=moment(day),
            content=content,
            context=visit.context if visit else "",
            remark=remark,
        )

    def gross(self, name: str, scale: Scale, grams: int, *, restarted: bool = False) -> Gross:
        """Return a reading of a cylinder."""
        self.cylinders[name].refresh_from_db()
        return Gross(self.cylinders[name], scale, grams * G, f"{grams / 1000:.3f} kg", restarted)

    def data(self, kind: str, typed: Mapping[str, Any]) -> dict[str, Any]:
        """Return a step's fields as its form reads them; a field that the kind does not have is an error here."""
        making, found = Making(self.workshop), {}
        for name, text in typed.items():
            one = BY_NAME[kind].field(name)
            field = making.field(one)
            sent: Any
            if one.type in ("readings", "rises"):
                sent = _rows(text)
            elif one.type == "instrument":
                sent = str(Gauge.objects.get(book=self.book, name=text).pk)
            else:
                sent = field.widget.value_from_datadict({name: text}, MultiValueDict(), name)
            value = kept(field.clean(sent))
            if value is not None:
                found[name] = value
        return found

    def facts(
        self,
        kind: str,
        typed: Mapping[str, Any],
        *,
        who: str = "technician",
        answers: str | None = None,
        note: str = "",
    ) -> StepFacts:
        """Return a step's fields as a form would have read them."""
        return StepFacts(
            doer=self.people[who],
            answers=self.people[answers] if answers else None,
            data=self.data(kind, typed),
            note=note,
        )

    def step(self, vehicle: str, day: str, kind: str, *, who: str = "technician", note: str = "", **typed: Any) -> Step:
        """Write a step that moves no mass."""
        with present(moment(day)):
            return entering.add_step(
                self.visits[vehicle],
                kind,
                occurred_at=moment(day),
                key=self.key(),
                facts=self.facts(kind, typed, who=who, note=note),
            )

    def visit(self, vehicle: str, day: str, *, purpose: str, **typed: Any) -> Visit:
        """Open a visit."""
        car = self.vehicles[vehicle]
        car.refresh_from_db()
        with present(moment(day)):
            self.visits[vehicle] = entering.open_visit(
                self.workshop,
                car,
                opened_at=moment(day),
                step_key=self.key(),
                received=self.facts("received", typed),
                purpose=purpose,
            )
        return self.visits[vehicle]

    def charge(
        self,
        vehicle: str,
        day: str,
        name: str,
        scale: Scale,
        before: int,
        after: int,
        *,
        target: str,
        restarted: bool = False,
        **typed: Any,
    ) -> Entry:
        """Charge a vehicle by two readings."""
        visit = self.visits[vehicle]
        content = {"cylinder": name, "before": before, "after": after}
        with present(moment(day)):
            entry, _ = gas_in.charge(
                visit,
                self.act(day, content, visit=visit),
                self.facts("charge", {"target": target, **typed}),
                before=self.gross(name, scale, before),
                after=self.gross(name, scale, after, restarted=restarted),
            )
        return entry

    def recover(
        self,
        vehicle: str,
        day: str,
        name: str,
        scale: Scale,
        before: int,
        after: int,
        gas: FromVehicle,
        *,
        who: str = "technician",
        answers: str | None = None,
        **typed: Any,
    ) -> Entry:
        """Recover one leg into a cylinder by two readings."""
        visit = self.visits[vehicle]
        content = {"cylinder": name, "before": before, "after": after}
        with present(moment(day)):
            entry, _ = gas_out.recover(
                visit,
                self.act(day, content, visit=visit, who=who),
                self.facts("recovery", typed, who=who, answers=answers),
                gas=gas,
                before=self.gross(name, scale, before),
                after=self.gross(name, scale, after),
                jurisdiction=self.workshop.jurisdiction,
            )
        return entry

    def hand_over(self, vehicle: str, day: str, **typed: Any) -> None:
        """Hand a vehicle over."""
        with present(moment(day)):
            entering.hand_over(
                self.visits[vehicle], occurred_at=moment(day), key=self.key(), facts=self.facts("hand-over", typed)
            )

    def receive(self, name: str, day: str, first: First | None, reading: tuple[Scale, int] | None, **more: Any) -> None:
        """Put a cylinder on the shelf."""
        about = CYLINDERS[name]
        stamped = name in ("C-34", "C-44")
        new = NewCylinder(
            serial=name,
            kind=about["kind"],
            refrigerant=about["refrigerant"],
            grade=about["grade"],
            tare_mg=about["tare"] * G,
            tare_u_mg=28_868 if stamped else 0,  # a stamp good to 50 g either way
            tare_source="stamped" if stamped else "measured evacuated",
            water_capacity_m3=about["litres"] * L if about["litres"] else None,
            requalify_by=date(2031, 5, 1) if about["kind"] != Cylinder.TANK else None,
            typed={"tare": f"{about['tare']} g", "water_capacity": f"{about['litres']} L" if about["litres"] else ""},
            **more,
        )
        at = None
        if reading is not None:
            at = FirstReading(reading[0], reading[1] * G, f"{reading[1] / 1000:.3f} kg")
        with present(moment(day)):
            content = {"serial": name, "gross": reading[1] if reading else None}
            self.cylinders[name] = receiving.receive_cylinder(
                self.book, self.act(day, content, who="owner"), new, first, at
            )
        Cylinder.objects.filter(pk=self.cylinders[name].pk).update(label=_label(name))

    # --- the year ---

    def set_up(self) -> None:
        """Create the workshop with its people, partners, instruments and vehicles."""
        with transaction.atomic(), present(moment("01-01 08:00")):
            self.book: Book = ledger.open_book(NAME, str(ZONE), ROOT)
            self.workshop = Workshop.objects.create(
                book=self.book,
                slug=SLUG,
                name=NAME,
                zone=str(ZONE),
                altitude_m=0.0,
                address="Slipway Yard 3\nPort Ellery",
                phone="(0) 555 0142",
                registration="W-2207",
                jurisdiction="eu",
                gwp_basis="AR4",
            )
            self._people()
            for name, (kind, address, registration) in PARTNERS.items():
                account = ledger.open_account(self.book, "partner", name)
                self.partners[name] = Partner.objects.create(
                    account=account, name=name, kind=kind, address=address, registration=registration
                )
            self.s1 = ledger.open_scale(
                self.book, name="S1", step_mg=5 * G, capacity_mg=100_000 * G, calibrated_until=date(2026, 3, 1)
            )
            self.s2 = ledger.open_scale(
                self.book, name="S2", step_mg=2 * G, capacity_mg=50_000 * G, calibrated_until=date(2026, 3, 1)
            )
            self._gauges()
            self._vehicles()

    def _people(self) -> None:
        for user_name, (name, role, trainee) in PEOPLE.items():
            user = User(username=user_name, display_name=name, handle=f"p-{user_name}")
            user.set_password(
                self.password
            ) if self.password and user_name != "trainee" else user.set_unusable_password()
            user.save()
            enrolled = date(2024, 9, 2) if trainee else None
            Membership.objects.create(
                user=user, workshop=self.workshop, role=role, is_trainee=trainee, enrolled_on=enrolled
            )
            self.people[user_name] = user
        for user_name, number in (("owner", "PE-0311"), ("technician", "PE-0874")):
            Certification.objects.create(
                user=self.people[user_name],
                scheme="training attestation, vehicle air conditioning",
                number=number,
                issuer="Ellery Trade School",
                issued_on=date(2021, 4, 12),
                expires_on=date(2028, 4, 12),
                scope="recovery and service, type M1",
            )

    def _gauges(self) -> None:
        typed = {"G1": "1 psi", "G2": "0.1 mbar", "TH1": "1 C", "ID1": "", "L1": "5 g a year"}
        for name, kind, step, absolute in (
            ("G1", "pressure gauge", 6894.757, False),
            ("G2", "vacuum gauge", 10.0, True),
            ("TH1", "thermometer", 1.0, False),
            ("ID1", "identifier", None, False),
            ("L1", "leak detector", 5.0, False),
        ):
            Gauge.objects.create(
                book=self.book,
                name=name,
                kind=kind,
                step=step,
                absolute=absolute,
                accuracy=0.5 if kind == "thermometer" else None,
                typed={"step": typed[name]},
                calibrated_until=date(2026, 3, 1),
            )

    def _vehicles(self) -> None:
        customer = Customer.objects.create(workshop=self.workshop, name="Aldous Penrake", phone="555 0167")
        fleet = Customer.objects.create(workshop=self.workshop, name="Ellery Lines", phone="555 0190")
        for registration, about in VEHICLES.items():
            account = ledger.open_account(self.book, "vehicle", registration)
            bus = registration == "V-BUS"
            self.vehicles[registration] = Vehicle.objects.create(
                account=account,
                customer=fleet if bus else customer,
                registration=registration,
                vehicle_class="bus" if bus else "car",
                make_model=about["make_model"],
                refrigerant=about["refrigerant"],
                nameplate_mg=about["nameplate"] * G,
                volume_m3=about["litres"] * L,
                volume_source="estimate",
                oil_g=about["oil"],
                typed={"nameplate": f"{about['nameplate']} g", "volume": f"{about['litres']} L"},
            )

    def play(self) -> None:
        """Play the whole year."""
        with timezone.override(ZONE):
            self.set_up()
            self._chapters()

    def _chapters(self) -> None:
        for chapter in (
            self.january,
            self.a_full_car_is_converted,
            self.a_car_arrives_empty,
            self.a_wrong_gas_is_found,
            self.a_weekend_loss,
            self.a_bus_and_a_full_cylinder,
            self.the_life_and_return_of_a_bottle,
            self.the_scale_fails,
            self.out_cleaned_and_back,
            self.gas_goes_to_be_destroyed,
            self.a_car_comes_back_weak,
        ):
            chapter()

    def january(self) -> None:
        """Enter what was there, and buy a bottle in February."""
        opening = First("opening-stock", "single")
        for name, gross in (("C-12", 9340), ("C-35", 11420), ("C-41", 15050), ("C-37", 6100)):
            self.receive(name, "01-01 09:00", opening, (self.s1, gross))
        machine = First("opening-stock", "machine", mass_mg=5200 * G, u_mg=8660)
        self.receive("T-1", "01-01 09:10", machine, None, machine_limit_mg=15 * G, recycles=True)
        bought = First("purchase", "single", partner=self.partners["Harbour Gas Supply"])
        paper = {"paper_number": "HG-5521", "paper_mass_mg": 11_000 * G}
        self.receive("C-34", "02-20 11:15", bought, (self.s1, 17190), **paper)

    def a_full_car_is_converted(self) -> None:
        """V1, R-12 to R-134a, 3 March."""
        self.visit(
            "V1", "03-03 08:30", purpose="convert to R-134a", state="runs", says="does not cool", odometer="182400"
        )
        self.step("V1", "03-03 08:40", "label read", **LABEL, refrigerant="R-12", mass="900 g", tolerance="25 g")
        self.step("V1", "03-03 08:50", "standing pressure", pressure="4.7 bar", **all_at("20 C"))
        self.step("V1", "03-03 09:00", "ports seen", high="R-12 screw", low="R-12 screw", **PORTS)
        self.step("V1", "03-03 09:05", "identified", result="none here")
        gas = FromVehicle("R-12")
        self.recover("V1", "03-03 09:40", "C-12", self.s1, 9340, 10208, gas, **PULLED_DOWN)
        self.step("V1", "03-03 09:55", "circuit opened", what="condenser and drier out", relieved="yes")
        self.step("V1", "03-03 10:40", "part in", part="receiver drier", **NEW_PART)
        self.step("V1", "03-03 11:00", "circuit closed", what="all joints", capped="yes")
        self.step(
            "V1",
            "03-03 11:45",
            "pressure hold",
            readings="0, 250 psi, 22 C; 20, 251 psi, 23 C",
            volume="2.0 L",
            allowed="300 psi",
            gas="dry nitrogen",
            relief="yes",
            gauge="G1",
            thermometer="TH1",
        )
        self.step("V1", "03-03 12:10", "leak search", **SEARCHED, pressure="5 bar", joints="14", leaking="0")
        self.step("V1", "03-03 12:30", "pulling vacuum", pump="P1, two stages", gauge="G2", lowest="1.5 mbar")
        self.step("V1", "03-03 13:00", "vacuum hold", **VACUUM, coldest="20 C")
        oil = {"out": "190 mL", "in": "200 mL", "type": "ester", "why": "new drier"}
        self.step("V1", "03-03 13:20", "oil balance", **oil)
        self.charge("V1", "03-03 13:40", "C-34", self.s2, 17186, 16402, target="765 g", tolerance="25 g", **LIQUID_HIGH)
        with present(moment("03-03 14:00")):
            entering.convert(
                self.visits["V1"],
                occurred_at=moment("03-03 14:00"),
                key=self.key(),
                facts=self.facts("conversion done", CONVERTED),
                to_refrigerant="R-134a",
            )
        self.step(
            "V1",
            "03-03 14:20",
            "running test",
            air="20 C",
            humidity="50 %",
            low="1.9 bar",
            high="10.8 bar",
            vent="8 C",
            speed="1500",
            fan="high",
            recirculation="yes",
        )
        self.step("V1", "03-03 14:40", "after-search", joints="14", leaking="0", instrument="L1", caps="yes")
        self.hand_over("V1", "03-03 15:00", **GIVEN)

    def a_car_arrives_empty(self) -> None:
        """V2 stands at nothing, 14 April; its condenser is renewed and it is converted."""
        self.visit("V2", "04-14 09:00", purpose="repair and convert", state="warm", says="no cooling since last summer")
        self.step("V2", "04-14 09:10", "label read", **LABEL, refrigerant="R-12", mass="1100 g")
        self.step(
            "V2", "04-14 09:20", "standing pressure", pressure="0 bar", **all_at("24 C"), photo="kept with the visit"
        )
        self.step("V2", "04-14 09:40", "circuit opened", what="condenser out", relieved="yes")
        self.step("V2", "04-14 13:00", "part in", part="condenser", **NEW_PART)
        self.step("V2", "04-14 13:10", "circuit closed", what="all joints", capped="yes")
        self.step("V2", "04-14 14:30", "vacuum hold", **VACUUM, coldest="24 C")
        self.charge("V2", "04-14 15:10", "C-34", self.s2, 16402, 15467, target="935 g", tolerance="25 g", **LIQUID_HIGH)
        with present(moment("04-14 15:30")):
            entering.convert(
                self.visits["V2"],
                occurred_at=moment("04-14 15:30"),
                key=self.key(),
                facts=self.facts("conversion done", CONVERTED),
                to_refrigerant="R-134a",
            )
        self.hand_over("V2", "04-14 16:00", **GIVEN)

    def a_wrong_gas_is_found(self) -> None:
        """V3 should hold R-1234yf; an identifier shows R-134a in it, 6 May."""
        self.receive("C-40", "05-06 08:00", None, None)
        self.visit("V3", "05-06 08:30", purpose="weak cooling", state="runs", says="weak since a service elsewhere")
        self.step("V3", "05-06 08:45", "label read", **LABEL, refrigerant="R-1234yf", mass="480 g")
        parts = {"R-1234yf": "0.915", "R-134a": "0.080", "air": "0.005"}
        self.step(
            "V3",
            "05-06 09:00",
            "identified",
            result="used",
            instrument="ID1",
            shares="R-1234yf 91.5, R-134a 8.0, air 0.5",
        )
        gas = FromVehicle("MIXED", "suspect", parts)
        self.recover("V3", "05-06 10:00", "C-40", self.s1, 5300, 5765, gas, **PULLED_DOWN, coldest="18 C")
        self.charge("V3", "05-06 11:30", "C-37", self.s2, 6100, 5620, target="480 g", tolerance="15 g", **VAPOUR_LOW)
        self.hand_over("V3", "05-06 12:10", **GIVEN)

    def a_weekend_loss(self) -> None:
        """C-35 lost 180 g over a weekend in June; on Wednesday bubbles show where."""
        day = "06-16 08:05"
        with present(moment(day)):
            entry = onscale.weigh(
                self.book,
                self.act(day, {"cylinder": "C-35", "gross": 11240}),
                self.gross("C-35", self.s1, 11240),
                Weighing.CHECK,
            )
        day = "06-18 10:20"
        difference = Movement.objects.get(entry=entry)
        with present(moment(day)):
            explaining.explain(
                self.book,
                self.act(day, {"line": entry.seq}, remark="Bubbles at the valve stem under soap; valve tightened."),
                difference,
                cause="loss-explained",
                mass_mg=180 * G,
            )

    def a_bus_and_a_full_cylinder(self) -> None:
        """A city bus fills one cylinder and half of another, 10 and 11 July."""
        self.receive("C-42", "07-10 07:40", None, (self.s1, 13600))
        self.visit("V-BUS", "07-10 08:00", purpose="recover, replace compressor, charge", state="runs")
        self.step("V-BUS", "07-10 08:20", "label read", **LABEL, refrigerant="R-134a", mass="7000 g", tolerance="100 g")
        gas = FromVehicle("R-134a")
        by = {"who": "trainee", "answers": "technician"}
        self.recover("V-BUS", "07-10 09:30", "C-41", self.s1, 15050, 17495, gas, stopped="target full", **by)
        self.recover(
            "V-BUS",
            "07-10 11:00",
            "C-42",
            self.s1,
            13600,
            17925,
            gas,
            final_pressure="0.50 bar absolute",
            pressure_after_wait="0.52 bar absolute",
            coldest="25 C",
            oil_out="60 mL",
            waited="5 min",
            stopped="done",
            **by,
        )
        self.charge(
            "V-BUS", "07-11 10:00", "C-34", self.s2, 15467, 8467, target="7000 g", tolerance="100 g", **LIQUID_HIGH
        )
        self.hand_over("V-BUS", "07-11 12:00", **GIVEN)

    def the_life_and_return_of_a_bottle(self) -> None:
        """C-34 charges three repaired cars in August and goes back; C-44 comes."""
        for registration, day, before, after, mass in (
            ("V7", "08-05", 8467, 7857, 610),
            ("V8", "08-12", 7857, 7272, 585),
            ("V9", "08-21", 7272, 6622, 650),
        ):
            self.visit(registration, f"{day} 08:30", purpose="charge after repair", state="open to air")
            self.step(
                registration,
                f"{day} 09:00",
                "standing pressure",
                pressure="0 bar",
                **all_at("24 C"),
                photo="kept with the visit",
            )
            self.step(registration, f"{day} 10:30", "vacuum hold", **VACUUM, coldest="24 C")
            self.charge(
                registration,
                f"{day} 11:00",
                "C-34",
                self.s2,
                before,
                after,
                target=f"{mass} g",
                tolerance="15 g",
                **LIQUID_HIGH,
            )
            self.hand_over(registration, f"{day} 12:00", **GIVEN)
        day = "09-01 09:00"
        dispatch = Dispatch(self.partners["Harbour Gas Supply"], "heel-returned", "return to supplier", "PE-25-01")
        with present(moment(day)):
            act = self.act(day, {"cylinder": "C-34", "gross": 6615}, who="owner", remark="Back for its deposit.")
            away.send_away(self.book, act, self.gross("C-34", self.s1, 6615), dispatch)
        bought = First("purchase", "single", partner=self.partners["Harbour Gas Supply"])
        paper = {"paper_number": "HG-6107", "paper_mass_mg": 11_000 * G}
        self.receive("C-44", "09-01 09:30", bought, (self.s1, 17205), **paper)

    def the_scale_fails(self) -> None:
        """S2 goes dark in the middle of a charge and is restarted, 15 September."""
        self.visit("V4", "09-15 13:00", purpose="charge after repair", state="open to air")
        self.step("V4", "09-15 13:30", "vacuum hold", **VACUUM, coldest="19 C")
        self.charge(
            "V4",
            "09-15 14:10",
            "C-44",
            self.s2,
            17196,
            16642,
            restarted=True,
            target="550 g",
            tolerance="15 g",
            **LIQUID_HIGH,
        )
        self.step(
            "V4",
            "09-15 14:20",
            "interrupted",
            why="scale",
            **{"from": "2025-09-15 13:55", "to": "2025-09-15 14:10"},
            left="valve shut, hose standing",
        )
        self.hand_over("V4", "09-15 19:00", **GIVEN)

    def out_cleaned_and_back(self) -> None:
        """V5 by machine: recovered, recycled, charged, 7 October."""
        visit = self.visit("V5", "10-07 09:00", purpose="service", state="runs")
        self.step("V5", "10-07 09:05", "label read", **LABEL, refrigerant="R-134a", mass="550 g", tolerance="15 g")
        tank, day = self.cylinders["T-1"], "10-07 09:40"
        with present(moment(day)):
            gas_out.recover_by_machine(
                visit,
                self.act(day, {"recovered": 520, "purged": 6}, visit=visit),
                self.facts("recovery", {**PULLED_DOWN, "oil_out": "30 mL", "coldest": "19 C"}),
                tank=tank,
                refrigerant="R-134a",
                recovered_mg=520 * G,
                purged_mg=6 * G,
            )
        day = "10-07 10:30"
        with present(moment(day)):
            gas_in.charge_shown(
                visit,
                self.act(day, {"charged": 545}, visit=visit),
                self.facts("charge", {"target": "550 g", "tolerance": "15 g"}),
                source=tank,
                mass_mg=545 * G,
            )
        self.step(
            "V5",
            "10-07 10:35",
            "oil balance",
            out="30 mL",
            **{"in": "40 mL"},
            type="PAG 46",
            why="10 mL missing from the compressor",
        )
        self.hand_over("V5", "10-07 11:00", **GIVEN)

    def gas_goes_to_be_destroyed(self) -> None:
        """The R-12 of C-12 goes to the destroyer, 20 November; their paper comes in December."""
        day = "11-20 09:00"
        dispatch = Dispatch(self.partners["Northmoor Destruction"], "sent-away", "destruction", "PE-25-02")
        with present(moment(day)):
            act = self.act(day, {"cylinder": "C-12", "gross": 10208}, who="owner")
            entry = away.send_away(self.book, act, self.gross("C-12", self.s1, 10208), dispatch)
            away.accept(entry.consignment, accepted_mg=3290 * G, oil_mg=68 * G, on=date(2025, 12, 4), paper="ND-7741")

    def a_car_comes_back_weak(self) -> None:
        """V1 after 274 days: a leak is found and repaired, 2 December."""
        visit = self.visit("V1", "12-02 08:30", purpose="top up", state="runs", says="cools less than in summer")
        gas = FromVehicle("R-134a")
        self.recover("V1", "12-02 09:30", "C-35", self.s1, 11240, 11880, gas, **PULLED_DOWN, coldest="15 C")
        day = "12-02 09:45"
        with present(moment(day)):
            gas_out.settle_remainder(
                visit,
                self.act(day, {"residue": 9, "road": 135}, visit=visit),
                self.facts("remainder settled", {"evidence": "C: leak found and photographed after recovery"}),
                "R-134a",
                Remainder(residue_mg=9 * G, residue_u_mg=5081, road_mg=135 * G),
            )
        self.step(
            "V1",
            "12-02 10:15",
            "leak search",
            **SEARCHED,
            pressure="4 bar",
            joints="14",
            leaking="1",
            where="high-side port core",
        )
        self.step("V1", "12-02 10:40", "repair", joint="high-side service port", what="valve core and cap renewed")
        self.step("V1", "12-02 11:40", "vacuum hold", **VACUUM, coldest="17 C")
        self.charge("V1", "12-02 12:20", "C-44", self.s2, 16640, 15870, target="765 g", tolerance="25 g", **LIQUID_HIGH)
        self.hand_over("V1", "12-02 13:00", **GIVEN)


def _rows(text: str) -> list[dict[str, str]]:
    """Return readings as a form sends them, from ``0 min, 250 psi, 22 C; 20 min, 251 psi, 23 C``."""
    parts = [[part.strip() for part in row.split(",")] for row in text.split(";")]
    return [dict(zip(("time", "pressure", "temperature"), row, strict=False)) for row in parts]


def _label(name: str) -> str:
    """Return a label code for a cylinder of the demonstration, the same in every run."""
    number = uuid5(ROOT, name).int
    body = "".join(ALPHABET[number >> (5 * place) & 31] for place in range(5))
    return body + check_character(body)
