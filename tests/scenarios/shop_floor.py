"""Port Ellery at its pages: the people who press, the day that it is, and the book to look into afterwards.

Everything that has a page is entered through it; the workshop itself and its first owner come from the fixtures of all
tests. The clock is moved to the day of the act, so that nothing is late that was not meant to be.
"""

from collections.abc import Callable
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.test import Client

from inventory.models import Account, Cylinder, Holding, Movement
from shop.demo import cast
from shop.demo.cast import Car
from shop.models import Membership, Step, Vehicle
from tests.scenarios.pages import Page, look, press

ZONE = ZoneInfo("Etc/GMT-2")
HOME = "/w/port-ellery/"
EVACUATED, STAMPED = "measured evacuated", "stamped"

OWNER, TECHNICIAN, TRAINEE = "Olga Moreau", "Tobin Falk", "Ilse Wren"


def as_typed(plate: str, car: Car) -> dict[str, Any]:
    """Return what is typed of a vehicle of the story; inside volume and oil where the scenarios know them."""
    said = {"make_model": car.make_model, "refrigerant": car.refrigerant, "nameplate": f"{car.nameplate_g} g"}
    if car.tolerance_g is not None:
        said["tolerance"] = f"{car.tolerance_g} g"
    if plate in ("V1", "V2", "V5", "V-BUS"):
        said |= {"volume": f"{car.litres} L", "oil": f"{car.oil_g}"}
    return {**said, "vehicle_class": car.vehicle_class}


VEHICLES: dict[str, dict[str, Any]] = {plate: as_typed(plate, car) for plate, car in cast.VEHICLES.items()}


def moment(day: str) -> datetime:
    """Return the moment that is written ``03-03 09:40`` of 2025, or with its year in front, in workshop time."""
    text = day if day.count("-") == 2 else f"2025-{day}"
    return datetime.strptime(text, "%Y-%m-%d %H:%M").replace(tzinfo=ZONE)


class Floor:
    """The workshop's floor: `at` moves the clock, the other verbs press through pages as one of its people."""

    def __init__(self, clock: Callable[[datetime], object], workshop: Any) -> None:
        self.clock, self.workshop = clock, workshop
        self.book = workshop.book
        self.who = OWNER
        self.looks = True  # at the page that follows what is pressed
        self.looks_always = False  # also in the middle of a chapter
        self._clients: dict[str, Client] = {}
        self._visits: dict[str, int] = {}

    # People and days

    def at(self, day: str, who: str = TECHNICIAN) -> None:
        """Let it be `day`, and let `who` press; a session does not outlive the day."""
        self.clock(moment(day))
        self.who = who
        self._clients = {}

    @property
    def client(self) -> Client:
        """The browser of whoever presses now."""
        if self.who not in self._clients:
            member = Membership.objects.select_related("user").get(workshop=self.workshop, user__display_name=self.who)
            self._clients[self.who] = Client()
            self._clients[self.who].force_login(member.user, backend="django.contrib.auth.backends.ModelBackend")
        return self._clients[self.who]

    def press(self, path: str, **typed: Any) -> Page:
        """Press through the form at `path`."""
        return press(self.client, HOME + path, stay=not self.looks, **typed)

    def look(self, path: str) -> Page:
        """Open a page."""
        return look(self.client, HOME + path)

    def enter(self, path: str, **typed: Any) -> Page:
        """Press through a form that is expected to be taken."""
        page = self.press(path, **typed)
        assert page.status == 303, page.text
        return page

    def rules(self, whose: str) -> None:
        """Let the owner choose whose rules hold."""
        who, self.who = self.who, OWNER
        self.enter("settings/rules/", jurisdiction=whose)
        self.who = who

    # Cylinders

    def number(self, serial: str) -> int:
        """Return the account number of a cylinder, as it stands in its address."""
        return int(Cylinder.objects.get(account__book=self.book, serial=serial).account.number)

    def cylinder(self, serial: str) -> Page:
        """Open the page of a cylinder."""
        return self.look(f"cylinders/{self.number(serial)}/")

    def receive(self, serial: str, kind: str, refrigerant: str, grade: str, tare: str, **typed: Any) -> Page:
        """Receive a cylinder: choose what comes, then enter what is asked of it; a machine's tank has no empty mass."""
        origin = typed.pop("origin")
        way = f"cylinders/receive/?origin={origin}&kind={kind}"
        if kind != "machine tank":
            typed = {"tare": tare, "tare_source": EVACUATED, "tare_limit": "", **typed}
        return self.enter(way, serial=serial, refrigerant=refrigerant, grade=grade, **typed)

    def weigh(self, serial: str, gross: str, scale: str, **typed: Any) -> Page:
        """Enter the reading before, or the reading after where one stands open."""
        return self.enter(f"cylinders/{self.number(serial)}/weigh/", gross=gross, scale=scale, **typed)

    def check(self, serial: str, gross: str, scale: str, **typed: Any) -> Page:
        """Enter a check weighing."""
        return self.enter(f"cylinders/{self.number(serial)}/weigh/?check", gross=gross, scale=scale, **typed)

    def held(self, name: str) -> dict[tuple[str, str], int]:
        """Return what the book has in a cylinder or vehicle, in milligrams by refrigerant and grade."""
        account = Account.objects.get(book=self.book, label=name)
        rows = Holding.objects.filter(account=account).exclude(mass_mg=0)
        return {(row.refrigerant, row.grade): int(row.mass_mg) for row in rows}

    def inside(self, plate: str) -> dict[str, int]:
        """Return what the book has in a vehicle, in milligrams by refrigerant."""
        return {code: mass for (code, _), mass in self.held(plate).items()}

    # Vehicles and visits

    def vehicle(self, plate: str, **typed: Any) -> None:
        """Enter a vehicle that is not in the book yet."""
        if not Vehicle.objects.filter(account__book=self.book, registration=plate).exists():
            self.enter("vehicles/new/", registration=plate, **(VEHICLES.get(plate, {}) | typed))

    def arrive(self, plate: str, state: str = "runs", **typed: Any) -> int:
        """Start a visit and return its number."""
        self.vehicle(plate)
        page = self.enter("visits/new/", registration=plate, state=state, **typed)
        self._visits[plate] = int(page.url.rstrip("/").rpartition("/")[2])
        return self._visits[plate]

    def of(self, plate: str) -> str:
        """Return where the last visit of a vehicle stands."""
        return f"visits/{self._visits[plate]}/"

    def visit(self, plate: str) -> Page:
        """Open the log of the last visit of a vehicle."""
        return self.look(self.of(plate))

    def workings(self, plate: str, kind: str) -> Page:
        """Open the page that says how the verdict of the last step of a kind was reached."""
        number = int(self.of(plate).split("/")[1])
        step = Step.objects.filter(visit__workshop=self.workshop, visit__number=number, kind=kind).latest("pk")
        return self.look(f"{self.of(plate)}steps/{step.pk}/")

    def step(self, plate: str, kind: str, **typed: Any) -> Page:
        """Enter a step that moves no mass, and come to the visit."""
        return self.enter(f"{self.of(plate)}add/{kind}/", **typed)

    def recover(self, plate: str, serial: str, **typed: Any) -> Page:
        """Enter a leg of a recovery into a cylinder."""
        return self.enter(f"{self.of(plate)}recover/?target={self.number(serial)}", **typed)

    def charge(self, plate: str, serial: str, **typed: Any) -> Page:
        """Enter a leg of a charge from a cylinder."""
        return self.enter(f"{self.of(plate)}charge/?source={self.number(serial)}", **typed)

    # The book

    def moves(self, cause: str) -> list[tuple[str, str, str, str, int, str]]:
        """Return the movements of a cause as written: from, to, refrigerant, grade, milligrams, basis."""
        rows = Movement.objects.filter(entry__book=self.book, cause=cause, reversal=False).order_by("pk")
        return [
            (str(one.source), str(one.target), one.refrigerant, one.grade, int(one.mass_mg), one.basis)
            for one in rows.select_related("source", "target")
        ]

    def last(self, cause: str) -> Movement:
        """Return the last movement of a cause."""
        return Movement.objects.filter(entry__book=self.book, cause=cause, reversal=False).latest("pk")


def readings(*rows: tuple[str, ...]) -> dict[str, str]:
    """Return rows of time, pressure and, where it has one, temperature, as they are typed."""
    parts = ("time", "pressure", "temperature")
    return {
        f"readings_{number}_{part}": text
        for number, row in enumerate(rows)
        for part, text in zip(parts, row, strict=False)
    }
