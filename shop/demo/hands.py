"""The hands of an invented workshop: whatever people do in it goes through the same acts as in a real one.

The book's clock is moved to each day; a real book has no such way of writing. Every line, digest and step comes out the
same every time.
"""

from collections.abc import Iterator, Mapping
from datetime import date, datetime
from functools import singledispatchmethod
from typing import Any
from uuid import UUID, uuid5
from zoneinfo import ZoneInfo

from django.db.models import F
from django.utils import timezone
from django.utils.datastructures import MultiValueDict

from inventory.acts import away, describing, onscale, receiving, settling, undoing
from inventory.acts.away import Dispatch
from inventory.acts.receiving import First
from inventory.book import clock
from inventory.book.ledger import Act
from inventory.book.weighing import Gross
from inventory.models import AirCheck, Consignment, Cylinder, Entry, Gauge, Movement, Partner, Scale, Weighing
from inventory.shelf import airchecks, photos
from shop.demo import events, sketches
from shop.demo.cast import Bottle
from shop.demo.typed import label, rows
from shop.models import Customer, Step, User, Vehicle, Visit, Workshop
from shop.pages.forms.keeping import kept
from shop.pages.forms.stepfields import Making
from shop.people import instruments, vehicles
from shop.visits.acts import entering, gas_in, gas_out, watching
from shop.visits.acts.entering import StepFacts
from shop.visits.acts.gas_out import Remainder
from shop.visits.gas import gas_of
from shop.visits.kinds import BY_NAME
from shop.visits.watches import WATCH_BY_NAME

G = 1000  # milligrams
STAMP_U_MG = 28_868  # a stamp good to 50 g either way
MACHINE_U_MG = 8_660  # a display good to 15 g either way
MACHINE_LIMIT_MG = 15 * G


def mg(grams: float) -> int:
    """Return grams as the book keeps them."""
    return round(grams * G)


class Hands:
    """Those who write in the book of an invented workshop. `bottles` says what a cylinder is that comes."""

    def __init__(self, workshop: Workshop, root: UUID, bottles: Mapping[str, Bottle], supplier: str) -> None:
        self.workshop, self.book, self.root = workshop, workshop.book, root
        self.bottles, self.supplier = bottles, supplier
        self.zone, self.count = ZoneInfo(workshop.zone), 0
        self.people = {one.username: one for one in User.objects.filter(memberships__workshop=workshop)}
        self.scales = {one.name: one for one in Scale.objects.filter(book=self.book)}
        self.gauges = {one.name: one for one in Gauge.objects.filter(book=self.book)}
        self.partners = {one.name: one for one in Partner.objects.filter(account__book=self.book)}
        self.making = Making(workshop)
        self.read: dict[object, dict[str, Any]] = {}
        self.visits: dict[str, Visit] = {}
        self.vehicles: dict[str, Vehicle] = {}

    def play(self, event: events.Event, written: datetime | None = None) -> None:
        """Let an event happen; `written` is when it is entered, where that is later."""
        with timezone.override(self.zone), clock.played_at(written or self.moment(event.at)):
            self.happen(event)

    def finish(self) -> None:
        """Let what the tables note for themselves when a row is made be the invented day, too."""
        Step.objects.filter(visit__workshop=self.workshop).update(recorded_at=F("occurred_at"))
        AirCheck.objects.filter(account__book=self.book).update(recorded_at=F("occurred_at"))

    def held_g(self, plate: str) -> float:
        """Return what the book has in a vehicle, in grams."""
        held = vehicles.in_vehicle_mg(self.visit(plate).vehicle)
        return sum(one for one in held.values() if one > 0) / G

    # What the acts take

    def moment(self, at: str) -> datetime:
        """Return a moment from ``03-03 10:30`` of 2025 or ``2026-03-03 10:30``, workshop time."""
        text = at if len(at) > len("03-03 10:30") else f"2025-{at}"
        return datetime.strptime(text, "%Y-%m-%d %H:%M").replace(tzinfo=self.zone)

    def key(self) -> UUID:
        """Return the next request key, the same in every run."""
        self.count += 1
        return uuid5(self.root, str(self.count))

    def cylinder(self, serial: str) -> Cylinder:
        """Return a cylinder as it is now."""
        return Cylinder.objects.select_related("account__book").get(account__book=self.book, serial=serial)

    def visit(self, plate: str) -> Visit:
        """Return the last visit of a vehicle; each act changes this very object as it changes the row."""
        return self.visits[plate]

    def act(self, event: events.Event, content: Mapping[str, Any], *, context: str = "", remark: str = "") -> Act:
        """Return what the person of an event asks for."""
        actor = self.people[event.who].handle
        return Act(self.key(), actor, self.moment(event.at), content, context=context, remark=remark)

    def gross(self, serial: str, scale: str, grams: float, *, restarted: bool = False) -> Gross:
        """Return a reading of a cylinder."""
        return self.gross_of(self.cylinder(serial), scale, grams, restarted=restarted)

    def gross_of(self, cylinder: Cylinder, scale: str, grams: float, *, restarted: bool = False) -> Gross:
        """Return a reading of a cylinder, typed as the scale shows it."""
        on, step = self.scales[scale], self.scales[scale].step
        typed = step.text(step.count(mg(grams))) if step.shows(mg(grams)) else f"{grams / 1000:.3f} kg"
        return Gross(cylinder, on, mg(grams), typed, restarted)

    def facts(self, kind: str, event: events.Event, *, note: str = "") -> StepFacts:
        """Return a step's fields as a form would have read them."""
        data = self.data(kind, event.typed)
        return StepFacts(self.people[event.who], self.people[event.answers] if event.answers else None, data, note)

    def data(self, kind: str, typed: Mapping[str, str]) -> dict[str, Any]:
        """Return a step's fields as its form reads them; a field that the kind does not have is an error here."""
        said = kind, *sorted(typed.items())
        if said not in self.read:
            self.read[said] = dict(self._read(kind, typed))
        return self.read[said]

    def _read(self, kind: str, typed: Mapping[str, str]) -> Iterator[tuple[str, Any]]:
        for name, text in typed.items():
            one = BY_NAME[kind].field(name)
            field = self.making.field(one)
            sent: Any
            if one.type in ("readings", "rises"):
                sent = rows(text)
            elif one.type == "instrument":
                sent = str(self.gauges[text].pk)
            else:
                sent = field.widget.value_from_datadict({name: text}, MultiValueDict(), name)
            value = kept(field.clean(sent))
            if value is not None:
                yield name, value

    # What happens

    @singledispatchmethod
    def happen(self, event: events.Event) -> None:
        """Write what an event says."""
        raise NotImplementedError(event)

    @happen.register
    def _received(self, event: events.Received) -> None:
        about = self.bottles[event.serial]
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
            requalify_by=None if tank else about.tested_until,
            place=about.place,
            typed={"tare": f"{about.tare_g} g", "water_capacity": f"{about.litres} L" if about.litres else ""},
            paper_number=event.paper,
            paper_mass_mg=event.paper_g * G or None,
            machine_limit_mg=MACHINE_LIMIT_MG if tank else None,
            recycles=tank,
            certified_on=about.certified_on,
        )
        act = self.act(event, {"serial": event.serial, "gross": event.gross_g})
        made = receiving.receive_cylinder(self.book, act, new, self._first(event), self._first_reading(event, new))
        Cylinder.objects.filter(pk=made.pk).update(label=label(event.serial, self.root))

    def _first(self, event: events.Received) -> First | None:
        """Return where the gas of a cylinder that came is from; None where it came empty."""
        if event.origin == "empty":
            return None
        if event.machine_g is not None:
            return First(event.origin, "machine", mass_mg=event.machine_g * G, u_mg=MACHINE_U_MG)
        return First(event.origin, "single", partner=self.partners[self.supplier] if event.paper else None)

    def _first_reading(self, event: events.Received, new: Cylinder) -> Gross | None:
        if event.gross_g is None:
            return None
        return self.gross_of(new, "S1", event.gross_g)

    @happen.register
    def _arrived(self, event: events.Arrived) -> None:
        received = self.facts("received", event)
        at, key = self.moment(event.at), self.key()
        vehicle = self.vehicles.get(event.plate, event.plate)
        visit = entering.open_visit(
            self.workshop, vehicle, opened_at=at, step_key=key, received=received, purpose=event.purpose
        )
        self.visits[event.plate], self.vehicles[event.plate] = visit, visit.vehicle

    @happen.register
    def _did(self, event: events.Did) -> None:
        visit, facts = self.visit(event.plate), self.facts(event.kind, event)
        said: dict[str, Any] = {"occurred_at": self.moment(event.at), "key": self.key(), "facts": facts}
        if event.kind == "hand-over":
            entering.hand_over(visit, **said)
        elif event.kind == "conversion done":
            entering.convert(visit, to_refrigerant=event.typed["to"], **said)
        else:
            entering.add_step(visit, event.kind, **said)

    @happen.register
    def _recovered(self, event: events.Recovered) -> None:
        visit, cylinder = self.visit(event.plate), self.cylinder(event.serial)
        content = {"cylinder": event.serial, "before": event.before_g, "after": event.after_g}
        gas_out.recover(
            visit,
            self.act(event, content, context=visit.context),
            self.facts("recovery", event),
            gas=gas_of(visit),
            before=self.gross_of(cylinder, "S1", event.before_g),
            after=self.gross_of(cylinder, "S1", event.after_g),
            jurisdiction=self.workshop.jurisdiction,
        )

    @happen.register
    def _charged(self, event: events.Charged) -> None:
        visit, cylinder = self.visit(event.plate), self.cylinder(event.serial)
        content = {"cylinder": event.serial, "before": event.before_g, "after": event.after_g}
        gas_in.charge(
            visit,
            self.act(event, content, context=visit.context),
            self.facts("charge", event),
            before=self.gross_of(cylinder, event.scale, event.before_g),
            after=self.gross_of(cylinder, event.scale, event.after_g, restarted=event.restarted),
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
        settling.explain(self.book, act, found, cause="loss-explained", mass_mg=mg(event.mass_g) or int(found.mass_mg))

    @happen.register
    def _sent_away(self, event: events.SentAway) -> None:
        dispatch = Dispatch(self.partners[event.partner], event.cause, event.purpose, event.number)
        content = {"cylinder": event.serial, "gross": event.gross_g}
        gross = self.gross(event.serial, "S1", event.gross_g)
        away.send_away(self.book, self.act(event, content, remark=event.remark), gross, dispatch)

    @happen.register
    def _accepted(self, event: events.Accepted) -> None:
        sent = Consignment.objects.filter(entry__book=self.book, number__startswith=event.number).latest("pk")
        mass_mg, oil_mg, on = event.accepted_g * G, event.oil_g * G, date.fromisoformat(event.on)
        away.accept(sent, accepted_mg=mass_mg, oil_mg=oil_mg, on=on, paper=event.paper)

    @happen.register
    def _settled(self, event: events.Settled) -> None:
        visit = self.visit(event.plate)
        act = self.act(event, {"residue": event.residue_g, "road": event.road_g}, context=visit.context)
        parts = Remainder(residue_mg=mg(event.residue_g), residue_u_mg=event.residue_u_mg, road_mg=mg(event.road_g))
        facts = self.facts("remainder settled", event)
        gas_out.settle_remainder(visit, act, facts, visit.vehicle.refrigerant, parts)

    @happen.register
    def _known(self, event: events.Known) -> None:
        whose, _ = Customer.objects.get_or_create(workshop=self.workshop, name=event.customer, phone=event.phone)
        facts = {"registration": event.plate, "customer": whose, **event.facts}
        self.vehicles[event.plate] = vehicles.add_vehicle(self.workshop, **facts)

    @happen.register
    def _waits(self, event: events.Waits) -> None:
        entering.set_state(self.visit(event.plate), Visit.WAITING, event.what)

    @happen.register
    def _started(self, event: events.Started) -> None:
        pressure = self.data("pulling vacuum", {"lowest": event.pressure})["lowest"]
        watching.start(
            self.visit(event.plate),
            WATCH_BY_NAME["vacuum hold"],
            key=self.key(),
            by=self.people[event.who].handle,
            started_at=self.moment(event.at),
            planned_s=event.minutes * 60,
            data=self.data("vacuum hold", event.typed),
            reading={"pressure": pressure},
        )

    @happen.register
    def _read_again(self, event: events.ReadAgain) -> None:
        pressure = self.data("pulling vacuum", {"lowest": event.pressure})["lowest"]
        running = self.visit(event.plate).watches.get(ended_at=None)
        by = self.people[event.who].handle
        watching.add_reading(
            running, key=self.key(), by=by, taken_at=self.moment(event.at), data={"pressure": pressure}
        )

    @happen.register
    def _stock_taken(self, event: events.StockTaken) -> None:
        readings = [self.gross(serial, "S1", grams) for serial, grams in event.grosses_g.items()]
        onscale.stock_take(self.book, self.act(event, dict(event.grosses_g)), readings)

    @happen.register
    def _let(self, event: events.Let) -> None:
        cylinder = self.cylinder(event.serial)
        before, after = (self.gross_of(cylinder, "S1", one) for one in (event.before_g, event.after_g))
        act = self.act(event, {"cylinder": event.serial, "before": event.before_g, "after": event.after_g})
        away.lose(self.book, act, cylinder, event.cause, before=before, after=after)

    @happen.register
    def _heel_out(self, event: events.HeelOut) -> None:
        source, target = self.cylinder(event.serial), self.cylinder(event.into)
        before, after = (self.gross_of(source, "S1", one) for one in (event.before_g, event.after_g))
        act = self.act(event, {"cylinder": event.serial, "before": event.before_g, "after": event.after_g})
        onscale.transfer(self.book, act, source=source, target=target, before=before, after=after)
        content = {"cylinder": event.serial, "gross": event.after_g}
        act = self.act(event, content, remark="Empty and evacuated.")
        describing.correct_tare(self.book, act, self.gross(event.serial, "S1", event.after_g))
        on = self.moment(event.at).date()
        describing.discard(self.cylinder(event.serial), heel_removed_on=on, heel_statement=event.statement)

    @happen.register
    def _put_right(self, event: events.PutRight) -> None:
        account = self.cylinder(event.serial).account
        wrong = Entry.objects.filter(weighings__account=account, weighings__gross_mg=mg(event.wrong_g), reversal=None)
        charge = wrong.filter(weighings__role=Weighing.AFTER).latest("seq")
        gross = self.gross(event.serial, "S2", event.gross_g)
        act = self.act(event, {"line": charge.seq, "gross": event.gross_g}, remark="A digit was typed wrong.")
        undoing.correct_after(self.book, act, charge, gross_mg=gross.gross_mg, typed=gross.typed)

    @happen.register
    def _on_the_scale(self, event: events.OnTheScale) -> None:
        act = self.act(event, {"gross": event.gross_g}, context=self.visit(event.plate).context)
        onscale.weigh(self.book, act, self.gross(event.serial, "S2", event.gross_g), Weighing.BEFORE)

    @happen.register
    def _air_checked(self, event: events.AirChecked) -> None:
        typed = {"pressure": event.pressure, "coldest": event.temperature}
        read = {name: float(kept["si"]) for name, kept in self.data("standing pressure", typed).items()}
        said = {"pressure": event.pressure, "temperature": event.temperature, "waited": "14 h"}
        reading = airchecks.AirReading(read["pressure"], read["coldest"], 14 * 3600.0, True, self.gauges["G1"], said)
        airchecks.note_air_check(
            self.cylinder(event.serial),
            reading,
            key=self.key(),
            actor=self.people[event.who].handle,
            occurred_at=self.moment(event.at),
        )

    @happen.register
    def _instruments_checked(self, event: events.InstrumentsChecked) -> None:
        instruments.enter_checks(
            [self.scales.get(name) or self.gauges[name] for name in event.names],
            checked_on=self.moment(event.at).date(),
            until=event.until,
            by=event.by,
            paper=event.paper,
            actor=self.people[event.who].handle,
        )

    @happen.register
    def _photographed(self, event: events.Photographed) -> None:
        picture, act = sketches.SKETCHES[event.shows](event.reading), self.act(event, {"photo": event.shows})
        if event.kind:
            step = self.visit(event.plate).steps.filter(kind=event.kind).latest("pk")
            photos.add_photo(self.book, act, picture, shows=event.shows, context=step.context)
        else:
            line = Entry.objects.filter(book=self.book).latest("seq")
            photos.add_photo(self.book, act, picture, shows=event.shows, line=line)
