"""Large books of an invented workshop, the same every time, written straight into the tables for the benchmarks.

A book of N visits has 10 N movements over the three years that end today. Its digests are no chain: what proves the
chain (`ledger.py`, `import_book.py`) fills its own book through the one door.
"""

import os
import random
import sys
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import UUID

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path.insert(0, str(ROOT))

DAYS, BLOCK, PER_VISIT = 1_090, 5_000, 10
OWNER, SLUG = "owner", "benchmark"
GASES = (("R-134a", "virgin"), ("R-134a", "recovered"), ("R-1234yf", "virgin"))


def use(path: Path) -> bool:
    """Let Django use the book in a file; return whether it is still to be filled."""
    os.environ["DATABASE_URL"] = f"sqlite:///{path}"
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shop.settings")
    os.environ.setdefault("SECRET_KEY", "of a benchmark")
    import django

    django.setup()
    from django.core.management import call_command

    from shop.models import Workshop

    call_command("migrate", verbosity=0)
    return not Workshop.objects.exists()


def fill(visits: int) -> None:
    """Write a workshop with three people, 200 cylinders, a vehicle for every three visits, and its visits."""
    from django.db import transaction
    from django.utils import timezone

    from inventory.book import ledger
    from inventory.models import Book, Movement, PeriodTotal, totals
    from shop.models import Membership, User, Workshop

    book = ledger.open_book("Benchmark", "UTC")
    workshop = Workshop.objects.create(book=book, slug=SLUG, name="Benchmark", zone="UTC", address="Quay 1")
    workshop.set_up = None
    people = [User.objects.create_user(name, password=None) for name in (OWNER, "first", "second")]
    for user in people:
        role = "owner" if user.username == OWNER else "technician"
        Membership.objects.create(user=user, workshop=workshop, role=role)
    made = _Book(workshop, people, timezone.now() - timedelta(days=DAYS), visits)
    with transaction.atomic():
        made.furnish()
    for start in range(1, visits + 1, BLOCK // PER_VISIT):
        with transaction.atomic():
            made.write(range(start, min(start + BLOCK // PER_VISIT, visits + 1)))
    Book.objects.filter(pk=book.pk).update(head_seq=made.seq, head_digest=f"{made.seq:064x}")
    totals.fill(Movement, PeriodTotal)
    _hold(book)


class _Book:
    """What is written, block by block."""

    def __init__(self, workshop: Any, people: list[Any], begin: datetime, visits: int) -> None:
        self.workshop, self.book, self.people = workshop, workshop.book, people
        self.begin, self.visits, self.seq = begin, visits, 0
        self.draw = random.Random(12)

    def furnish(self) -> None:
        """Write accounts, cylinders, vehicles, partners and scales."""
        from inventory.models import Account, Cylinder, Partner, Scale, Tare
        from shop.models import Vehicle

        def accounts(kind: str, first: int, count: int, label: str) -> list[Account]:
            rows = [Account(book=self.book, number=first + n, kind=kind, label=f"{label}{n}") for n in range(count)]
            return Account.objects.bulk_create(rows, batch_size=BLOCK)

        self.accounts = {
            "cylinder": accounts("cylinder", 1_000, 200, "C-"),
            "partner": accounts("partner", 900, 10, "Partner "),
            "vehicle": accounts("vehicle", 10_000, max(1, self.visits // 3), "V-"),
        }
        for single in Account.objects.filter(book=self.book, number__lt=100):
            self.accounts[single.kind] = [single]
        cylinders = [
            Cylinder(
                account=account, serial=account.label, likeness=account.label, kind="refillable", refrigerant="R-134a",
                grade="virgin", tare_mg=6_200_000, water_capacity_m3=0.0264, label=f"{n:06d}", paper_number=f"P-{n}",
            )
            for n, account in enumerate(self.accounts["cylinder"])
        ]  # fmt: skip
        self.cylinders = Cylinder.objects.bulk_create(cylinders)
        Tare.objects.bulk_create(
            [Tare(cylinder=one, tare_mg=6_200_000, source="stamped", since=self.begin) for one in self.cylinders]
        )
        names = [Partner(account=one, name=one.label, likeness=one.label, kind="supplier", address="Quay 2")
                 for one in self.accounts["partner"]]  # fmt: skip
        Partner.objects.bulk_create(names)
        cars = [
            Vehicle(
                account=one, registration=one.label, registration_likeness=one.label.replace("-", ""),
                refrigerant="R-134a", nameplate_mg=600_000,
            )
            for one in self.accounts["vehicle"]
        ]  # fmt: skip
        self.vehicles = Vehicle.objects.bulk_create(cars, batch_size=BLOCK)
        self.scales = [Scale.objects.create(book=self.book, number=n, name=f"S{n}", step_mg=5_000) for n in (1, 2)]

    def write(self, numbers: range) -> None:
        """Write some visits with their steps, lines and readings."""
        from inventory.models import Entry, Movement, Weighing
        from shop.models import Step, Visit

        self.entries: list[Any] = []
        self._first = numbers.start
        visits = Visit.objects.bulk_create([self._visit(number) for number in numbers])
        drafts = [draft for visit in visits for draft in self._lines(visit)]
        Entry.objects.bulk_create(self.entries, batch_size=BLOCK)
        Movement.objects.bulk_create([one for movements, _ in drafts for one in movements], batch_size=BLOCK)
        Weighing.objects.bulk_create([one for _, weighings in drafts for one in weighings], batch_size=BLOCK)
        Step.objects.bulk_create([one for visit in visits for one in self._steps(visit)], batch_size=BLOCK)

    def _visit(self, number: int) -> Any:
        from shop.models import Visit

        opened = self.begin + timedelta(days=DAYS * number / (self.visits + 1))
        is_open = number > self.visits - 3
        return Visit(
            workshop=self.workshop, number=number, vehicle=self.vehicles[number % len(self.vehicles)], opened_at=opened,
            closed_at=None if is_open else opened + timedelta(hours=2), state="open" if is_open else "handed over",
        )  # fmt: skip

    def _entry(self, visit: Any, minutes: int) -> Any:
        from inventory.models import Entry

        self.seq += 1
        at = visit.opened_at + timedelta(minutes=minutes)
        made = Entry(
            book=self.book, seq=self.seq, kind="post", occurred_at=at, recorded_at=at, booked_on=at.date(),
            actor=self.people[visit.number % 3].handle, context=visit.context, request_key=UUID(int=self.seq),
            request_digest="0" * 64, digest=f"{self.seq:064x}",
        )  # fmt: skip
        self.entries.append(made)
        return made

    def _lines(self, visit: Any) -> Iterator[tuple[list[Any], list[Any]]]:
        """Yield movements and readings of the entries of a visit: out of the car, into it, and eight of the shelf."""
        from inventory.models import Weighing

        car = visit.vehicle.account
        code, grade = GASES[visit.number % 3]
        for minutes, cause, out in ((20, "recovery", True), (60, "charge", False)):
            entry, cylinder = self._entry(visit, minutes), self.draw.choice(self.accounts["cylinder"])
            ends = (car, cylinder) if out else (cylinder, car)
            mass = self.draw.randrange(300_000, 600_000)
            change = mass if out else -mass
            readings = [
                Weighing(
                    entry=entry, line=line, account=cylinder, role=role, gross_mg=gross, tare_mg=6_200_000, u_mg=2_041,
                    step_mg=5_000, scale=self.scales[0], typed=f"{gross / 1e6:.3f} kg",
                )
                for line, role, gross in ((1, "before", 12_000_000), (2, "after", 12_000_000 + change))
            ]  # fmt: skip
            yield [self._move(entry, 1, cause, ends[0], ends[1], code, grade, mass)], readings
        for _ in range(2):
            entry = self._entry(visit, 90)
            yield [self._shelf(entry, line, code, grade) for line in (1, 2, 3, 4)], []

    def _shelf(self, entry: Any, line: int, code: str, grade: str) -> Any:
        cylinder, mass = self.draw.choice(self.accounts["cylinder"]), self.draw.randrange(1_000, 89_525)
        cause, kind = (("purchase", "partner"), ("weighing-difference", "unexplained"))[line % 2]
        ends = (self.draw.choice(self.accounts[kind]), cylinder)
        if kind == "unexplained" and mass % 2:
            ends = (ends[1], ends[0])
        return self._move(entry, line, cause, ends[0], ends[1], code, grade, mass)

    def _move(
        self, entry: Any, line: int, cause: str, source: Any, target: Any, code: str, grade: str, mass: int
    ) -> Any:
        from inventory.models import Movement

        differs = cause == "weighing-difference"
        return Movement(
            entry=entry, line=line, book=self.book, booked_on=entry.booked_on, cause=cause, basis="pair", source=source,
            target=target, refrigerant=code, grade=grade, mass_mg=mass, u_random_mg=2_041, u_span_mg=300,
            scale=self.scales[0], can_tell_mg=89_500 if differs else 0,
        )  # fmt: skip

    def _steps(self, visit: Any) -> Iterator[Any]:
        from shop.models import Step

        stood = visit.number % 10 > 0  # one in ten without a standing pressure
        entries = {"recovery": self._entry_of(visit, 0), "charge": self._entry_of(visit, 1)}
        kinds = [("received", 0), ("label read", 5), *([("standing pressure", 10)] if stood else []), ("recovery", 20),
                 ("leak search", 40), ("charge", 60)]  # fmt: skip
        for place, (kind, minutes) in enumerate(kinds):
            yield Step(
                visit=visit, kind=kind, occurred_at=visit.opened_at + timedelta(minutes=minutes),
                doer=self.people[visit.number % 3], data=SAID.get(kind, {}), entry=entries.get(kind),
                request_key=UUID(int=visit.number * 100 + place),
            )  # fmt: skip

    def _entry_of(self, visit: Any, place: int) -> Any:
        return self.entries[(visit.number - self._first) * 4 + place]


def _said(name: str, si: Any = None, text: str = "", **more: Any) -> dict[str, Any]:
    return {name: {"text": text or str(si), "si": si, "echo": "", **more}}


SAID = {
    "received": _said("state", text="runs"),
    "label read": {**_said("refrigerant", text="R-134a"), **_said("mass", 0.6, "600 g", mg=600_000)},
    "standing pressure": {**_said("pressure", 601_325.0), **_said("air", 297.15), **_said("coldest", 297.15),
                          **_said("warmest", 297.15)},
    "recovery": {**_said("pressure_after_wait", 60_000.0), **_said("waited", 600.0), **_said("coldest", 293.15),
                 **_said("stopped", text="done")},
    "leak search": _said("leaking", 0.0),
    "charge": _said("target", 0.5, "500 g", mg=500_000),
}  # fmt: skip


VEHICLES_HOLD = """
INSERT INTO inventory_holding (account_id, refrigerant, grade, stock, mass_mg)
SELECT a.id, moved.refrigerant, '', 0, SUM(moved.mass_mg)
FROM (SELECT target_id AS account_id, refrigerant, mass_mg FROM inventory_movement
      UNION ALL SELECT source_id, refrigerant, -mass_mg FROM inventory_movement) moved
JOIN inventory_account a ON a.id = moved.account_id
WHERE a.book_id = %s AND a.kind = 'vehicle' GROUP BY a.id, moved.refrigerant
"""


def hold_vehicles(book: Any) -> None:
    """Let each vehicle hold what went into it less what came out."""
    from django.db import connection

    with connection.cursor() as cursor:
        cursor.execute(VEHICLES_HOLD, [book.pk])


def _hold(book: Any) -> None:
    """Let each cylinder hold something that it may: no holdings of these movements could stand in a real book."""
    hold_vehicles(book)
    from inventory.models import Account, Holding

    rows = Account.objects.filter(book=book, kind="cylinder")
    held = [Holding(account=one, refrigerant="R-134a", grade="virgin", stock=True, mass_mg=5_000_000) for one in rows]
    Holding.objects.bulk_create(held)
