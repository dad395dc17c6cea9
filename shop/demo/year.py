"""The story of Port Ellery played through the same acts as a real year, with the book's clock moved to each day.

A real book has no such way of writing. Every line, digest and step comes out the same every time.
"""

from collections.abc import Mapping
from datetime import date, datetime
from functools import singledispatchmethod
from typing import Any
from uuid import UUID, uuid5
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import F
from django.utils import timezone
from django.utils.datastructures import MultiValueDict

from inventory.acts import away, onscale, receiving, settling
from inventory.acts.away import Dispatch
from inventory.acts.receiving import First
from inventory.book import clock, ledger
from inventory.book.ledger import Act
from inventory.book.weighing import Gross
from inventory.measure.codes import ALPHABET, check_character
from inventory.models import Book, Consignment, Cylinder, Gauge, Movement, Partner, Scale, Weighing
from shop.demo import cast, events, story
from shop.models import Certification, Customer, Membership, Step, User, Vehicle, Visit, Workshop
from shop.pages.forms.keeping import kept
from shop.pages.forms.stepfields import Making
from shop.visits.acts import entering, gas_in, gas_out
from shop.visits.acts.entering import StepFacts
from shop.visits.acts.gas_out import Remainder
from shop.visits.gas import gas_of
from shop.visits.kinds import BY_NAME

G = 1000  # milligrams
LINES = 30  # entries of the whole year
ROOT = UUID("5f0c4e0a-6f0e-4d53-9d3c-2f1f6a1d7a10")
STAMP_U_MG = 28_868  # a stamp good to 50 g either way
MACHINE_U_MG = 8_660  # a display good to 15 g either way
MACHINE_LIMIT_MG = 15 * G


def moment(day: str) -> datetime:
    """Return a moment of the year from ``03-03 10:30``, workshop time."""
    return datetime.strptime(f"2025-{day}", "%Y-%m-%d %H:%M").replace(tzinfo=ZoneInfo(cast.ZONE))


class Year:
    """The workshop of the demonstration and the hands that write in it."""

    def __init__(self, password: str | None = None) -> None:
        self.password = password
        self.count = 0

    def play(self) -> None:
        """Play the whole year."""
        with timezone.override(ZoneInfo(cast.ZONE)):
            self.workshop = open_workshop(ROOT, self.password)
            self.book = self.workshop.book
            for event in story.YEAR:
                with clock.played_at(moment(event.at)):
                    self.happen(event)
        # no step came late: the table notes for itself when a row is made
        Step.objects.filter(visit__workshop=self.workshop).update(recorded_at=F("occurred_at"))

    # What the acts take

    def key(self) -> UUID:
        """Return the next request key, the same in every run."""
        self.count += 1
        return uuid5(ROOT, str(self.count))

    def person(self, who: str) -> User:
        """Return one of the people."""
        return User.objects.get(username=who)

    def scale(self, name: str) -> Scale:
        """Return S1 or S2."""
        return self.book.scales.get(name=name)

    def partner(self, name: str) -> Partner:
        """Return one of the partners."""
        return Partner.objects.get(account__book=self.book, name=name)

    def cylinder(self, serial: str) -> Cylinder:
        """Return a cylinder as it is now."""
        return Cylinder.objects.select_related("account__book").get(account__book=self.book, serial=serial)

    def visit(self, plate: str) -> Visit:
        """Return the last visit of a vehicle as it is now."""
        visits = Visit.objects.filter(workshop=self.workshop, vehicle__registration=plate)
        return visits.select_related("workshop__book", "vehicle__account__book").latest("number")

    def act(self, event: events.Event, content: Mapping[str, Any], *, context: str = "", remark: str = "") -> Act:
        """Return what the person of an event asks for."""
        actor = self.person(event.who).handle
        return Act(self.key(), actor, moment(event.at), content, context=context, remark=remark)

    def gross(self, serial: str, scale: str, grams: int, *, restarted: bool = False) -> Gross:
        """Return a reading of a cylinder."""
        return Gross(self.cylinder(serial), self.scale(scale), grams * G, f"{grams / 1000:.3f} kg", restarted)

    def facts(self, kind: str, event: events.Event, *, answers: str | None = None, note: str = "") -> StepFacts:
        """Return a step's fields as a form would have read them."""
        data = self.data(kind, event.typed)
        return StepFacts(self.person(event.who), self.person(answers) if answers else None, data, note)

    def data(self, kind: str, typed: Mapping[str, str]) -> dict[str, Any]:
        """Return a step's fields as its form reads them; a field that the kind does not have is an error here."""
        making, found = Making(self.workshop), {}
        for name, text in typed.items():
            one = BY_NAME[kind].field(name)
            field = making.field(one)
            sent: Any
            if one.type in ("readings", "rises"):
                sent = rows(text)
            elif one.type == "instrument":
                sent = str(Gauge.objects.get(book=self.book, name=text).pk)
            else:
                sent = field.widget.value_from_datadict({name: text}, MultiValueDict(), name)
            value = kept(field.clean(sent))
            if value is not None:
                found[name] = value
        return found

    # What happens

    @singledispatchmethod
    def happen(self, event: events.Event) -> None:
        """Write what an event says."""
        raise NotImplementedError(event)

    @happen.register
    def _received(self, event: events.Received) -> None:
        about = cast.CYLINDERS[event.serial]
        tank = about.kind == Cylinder.TANK
        new = Cylinder(
            serial=event.serial,
            kind=about.kind,
            refrigerant=about.refrigerant,
            grade=about.grade,
            tare_mg=about.tare_g * G,
            tare_u_mg=STAMP_U_MG if about.stamped else 0,
            tare_source="stamped" if about.stamped else "measured evacuated",
            water_capacity_m3=about.litres / 1000 if about.litres else None,
            requalify_by=None if tank else cast.TESTED_UNTIL,
            typed={"tare": f"{about.tare_g} g", "water_capacity": f"{about.litres} L" if about.litres else ""},
            paper_number=event.paper,
            paper_mass_mg=event.paper_g * G or None,
            machine_limit_mg=MACHINE_LIMIT_MG if tank else None,
            recycles=tank,
        )
        act = self.act(event, {"serial": event.serial, "gross": event.gross_g})
        made = receiving.receive_cylinder(self.book, act, new, self._first(event), self._first_reading(event, new))
        Cylinder.objects.filter(pk=made.pk).update(label=label(event.serial))

    def _first(self, event: events.Received) -> First | None:
        """Return where the gas of a cylinder that came is from; None where it came empty."""
        if event.origin == "empty":
            return None
        if event.machine_g is not None:
            return First(event.origin, "machine", mass_mg=event.machine_g * G, u_mg=MACHINE_U_MG)
        return First(event.origin, "single", partner=self.partner(cast.SUPPLIER) if event.paper else None)

    def _first_reading(self, event: events.Received, new: Cylinder) -> Gross | None:
        if event.gross_g is None:
            return None
        return Gross(new, self.scale("S1"), event.gross_g * G, f"{event.gross_g / 1000:.3f} kg")

    @happen.register
    def _arrived(self, event: events.Arrived) -> None:
        received = self.facts("received", event)
        at, key = moment(event.at), self.key()
        entering.open_visit(
            self.workshop, event.plate, opened_at=at, step_key=key, received=received, purpose=event.purpose
        )

    @happen.register
    def _did(self, event: events.Did) -> None:
        visit, facts = self.visit(event.plate), self.facts(event.kind, event)
        said: dict[str, Any] = {"occurred_at": moment(event.at), "key": self.key(), "facts": facts}
        if event.kind == "hand-over":
            entering.hand_over(visit, **said)
        elif event.kind == "conversion done":
            entering.convert(visit, to_refrigerant=event.typed["to"], **said)
        else:
            entering.add_step(visit, event.kind, **said)

    @happen.register
    def _recovered(self, event: events.Recovered) -> None:
        visit = self.visit(event.plate)
        content = {"cylinder": event.serial, "before": event.before_g, "after": event.after_g}
        gas_out.recover(
            visit,
            self.act(event, content, context=visit.context),
            self.facts("recovery", event, answers=event.answers),
            gas=gas_of(visit),
            before=self.gross(event.serial, "S1", event.before_g),
            after=self.gross(event.serial, "S1", event.after_g),
            jurisdiction=self.workshop.jurisdiction,
        )

    @happen.register
    def _charged(self, event: events.Charged) -> None:
        visit = self.visit(event.plate)
        content = {"cylinder": event.serial, "before": event.before_g, "after": event.after_g}
        gas_in.charge(
            visit,
            self.act(event, content, context=visit.context),
            self.facts("charge", event),
            before=self.gross(event.serial, "S2", event.before_g),
            after=self.gross(event.serial, "S2", event.after_g, restarted=event.restarted),
        )

    @happen.register
    def _machine_recovered(self, event: events.MachineRecovered) -> None:
        visit, tank = self.visit(event.plate), self.cylinder(event.serial)
        gas_out.recover_by_machine(
            visit,
            self.act(event, {"recovered": event.shown_g, "purged": event.purged_g}, context=visit.context),
            self.facts("recovery", event),
            tank=tank,
            refrigerant=tank.refrigerant,
            recovered_mg=event.shown_g * G,
            purged_mg=event.purged_g * G,
        )

    @happen.register
    def _machine_charged(self, event: events.MachineCharged) -> None:
        visit, act = self.visit(event.plate), {"charged": event.shown_g}
        gas_in.charge_shown(
            visit,
            self.act(event, act, context=visit.context),
            self.facts("charge", event),
            source=self.cylinder(event.serial),
            mass_mg=event.shown_g * G,
        )

    @happen.register
    def _checked(self, event: events.Checked) -> None:
        act = self.act(event, {"cylinder": event.serial, "gross": event.gross_g})
        onscale.weigh(self.book, act, self.gross(event.serial, "S1", event.gross_g), Weighing.CHECK)

    @happen.register
    def _explained(self, event: events.Explained) -> None:
        found = Movement.objects.filter(book=self.book, cause="weighing-difference").latest("pk")
        act = self.act(event, {"line": found.entry.seq}, remark=event.reason)
        settling.explain(self.book, act, found, cause="loss-explained", mass_mg=event.mass_g * G)

    @happen.register
    def _sent_away(self, event: events.SentAway) -> None:
        dispatch = Dispatch(self.partner(event.partner), event.cause, event.purpose, event.number)
        content = {"cylinder": event.serial, "gross": event.gross_g}
        gross = self.gross(event.serial, "S1", event.gross_g)
        away.send_away(self.book, self.act(event, content, remark=event.remark), gross, dispatch)

    @happen.register
    def _accepted(self, event: events.Accepted) -> None:
        sent = Consignment.objects.filter(entry__book=self.book).latest("pk")
        mass_mg, oil_mg, on = event.accepted_g * G, event.oil_g * G, date.fromisoformat(event.on)
        away.accept(sent, accepted_mg=mass_mg, oil_mg=oil_mg, on=on, paper=event.paper)

    @happen.register
    def _settled(self, event: events.Settled) -> None:
        visit = self.visit(event.plate)
        act = self.act(event, {"residue": event.residue_g, "road": event.road_g}, context=visit.context)
        parts = Remainder(residue_mg=event.residue_g * G, residue_u_mg=event.residue_u_mg, road_mg=event.road_g * G)
        facts = self.facts("remainder settled", event)
        gas_out.settle_remainder(visit, act, facts, visit.vehicle.refrigerant, parts)


def rows(text: str) -> list[dict[str, str]]:
    """Return readings as a form sends them, from ``0 min, 250 psi, 22 C; 20 min, 251 psi, 23 C``."""
    parts = [[part.strip() for part in row.split(",")] for row in text.split(";")]
    return [dict(zip(("time", "pressure", "temperature"), row, strict=False)) for row in parts]


def label(name: str) -> str:
    """Return a label code for a cylinder of the demonstration, the same in every run."""
    number = uuid5(ROOT, name).int
    body = "".join(ALPHABET[number >> (5 * place) & 31] for place in range(5))
    return body + check_character(body)


@transaction.atomic
def open_workshop(root: UUID, password: str | None) -> Workshop:
    """Create it all and return the workshop; `password` is that of all who sign in."""
    book = ledger.open_book(cast.NAME, cast.ZONE, root)
    workshop = Workshop.objects.create(book=book, slug=cast.SLUG, name=cast.NAME, zone=cast.ZONE, **cast.WORKSHOP)
    _people(workshop, password)
    for name, (kind, address, registration) in cast.PARTNERS.items():
        account = ledger.open_account(book, "partner", name)
        Partner.objects.create(account=account, name=name, kind=kind, address=address, registration=registration)
    _instruments(book)
    _vehicles(workshop)
    return workshop


def _people(workshop: Workshop, password: str | None) -> None:
    for user_name, (name, role) in cast.PEOPLE.items():
        trainee = user_name == cast.TRAINEE
        user = User(username=user_name, display_name=name, handle=f"p-{user_name}")
        user.set_password(None if trainee else password)
        user.save()
        enrolled = cast.TRAINED_SINCE if trainee else None
        Membership.objects.create(user=user, workshop=workshop, role=role, is_trainee=trainee, enrolled_on=enrolled)
        if number := cast.CERTIFIED.get(user_name):
            Certification.objects.create(user=user, number=number, **cast.CERTIFICATE)


def _instruments(book: Book) -> None:
    until = cast.CALIBRATED_UNTIL
    for name, (step_g, capacity_kg) in cast.SCALES.items():
        capacity_mg = capacity_kg * 1000 * G
        ledger.open_scale(book, name=name, step_mg=step_g * G, capacity_mg=capacity_mg, calibrated_until=until)
    for name, (kind, step, typed, absolute, accuracy) in cast.GAUGES.items():
        Gauge.objects.create(
            book=book,
            name=name,
            kind=kind,
            step=step,
            absolute=absolute,
            accuracy=accuracy,
            typed={"step": typed},
            calibrated_until=until,
        )


def _vehicles(workshop: Workshop) -> None:
    customer = Customer.objects.create(workshop=workshop, name="Aldous Penrake", phone="555 0167")
    fleet = Customer.objects.create(workshop=workshop, name="Ellery Lines", phone="555 0190")
    for registration, car in cast.VEHICLES.items():
        Vehicle.objects.create(
            account=ledger.open_account(workshop.book, "vehicle", registration),
            customer=fleet if car.vehicle_class == "bus" else customer,
            registration=registration,
            vehicle_class=car.vehicle_class,
            make_model=car.make_model,
            refrigerant=car.refrigerant,
            nameplate_mg=car.nameplate_g * G,
            volume_m3=car.litres * 1e-3,
            volume_source="estimate",
            oil_g=car.oil_g,
            typed={"nameplate": f"{car.nameplate_g} g", "volume": f"{car.litres} L"},
        )
