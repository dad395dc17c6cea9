"""One workshop whose people weigh, charge and send, and what the papers of its cylinders say."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest

from compliance.papers.consignments import consignment_note
from compliance.papers.labels import cylinder_labels
from compliance.papers.log import cylinder_log
from compliance.papers.paper import Facts, NothingToIssue, Paper, Table
from inventory.acts import away, onscale, receiving
from inventory.acts.away import Dispatch
from inventory.acts.receiving import First
from inventory.book import ledger
from inventory.book.weighing import Gross
from inventory.models import Cylinder, Entry
from shop.visits.acts import entering, gas_in
from shop.visits.acts.entering import StepFacts

G = 1000
TODAY = date(2026, 1, 2)
START = datetime(2025, 2, 20, 9, tzinfo=UTC)


class Desk:
    """One workshop whose people weigh, charge and send, an hour after each other."""

    def __init__(self, workshop: Any, technician: Any, clock: Callable[[datetime], datetime], scales: Any) -> None:
        self.workshop, self.book, self.technician = workshop, workshop.book, technician
        self.clock, self.at = clock, START
        self.s1, self.s2 = scales
        self.visits = 0

    def act(self, context: str = "", actor: str = "") -> ledger.Act:
        self.at += timedelta(hours=1)
        self.clock(self.at)
        return ledger.Act(uuid4(), actor or self.technician.handle, self.at, {"n": str(self.at)}, context)

    def gross(self, cylinder: Any, scale: Any, grams: int) -> Gross:
        return Gross(cylinder, scale, grams * G, f"{grams} g")

    def bottle(self, partner: Any) -> Cylinder:
        """C-34 as it comes: 17,190 g gross, stamped 6,200 g good to 50 g."""
        new = Cylinder(
            serial="C-34",
            kind="refillable",
            refrigerant="R-134a",
            grade="virgin",
            tare_mg=6_200 * G,
            tare_u_mg=28_868,
            water_capacity_m3=0.012,
            requalify_by=date(2031, 5, 1),
        )
        first = First("purchase", "single", partner)
        return receiving.receive_cylinder(
            self.book, self.act(), new, first, Gross(new, self.s1, 17_190 * G, "17.190 kg")
        )

    def charge(self, cylinder: Any, plate: str, before: int, after: int, **facts: Any) -> Entry:
        act = self.act()
        self.visits += 1
        done = StepFacts(doer=self.technician, **facts)
        visit = entering.open_visit(self.workshop, plate, opened_at=act.occurred_at, step_key=uuid4(), received=done)
        act = self.act(visit.context)
        readings = {"before": self.gross(cylinder, self.s2, before), "after": self.gross(cylinder, self.s2, after)}
        return gas_in.charge(visit, act, done, **readings)[0]

    def check(self, cylinder: Any, grams: int) -> Entry:
        return onscale.weigh(self.book, self.act(), self.gross(cylinder, self.s1, grams))

    def send(self, cylinder: Any, grams: int, dispatch: Dispatch) -> Entry:
        return away.send_away(self.book, self.act(), self.gross(cylinder, self.s1, grams), dispatch)

    def life_of_a_bottle(self, partner: Any) -> Cylinder:
        """From its purchase to its return, six charges between."""
        cylinder = self.bottle(partner)
        at = (17_186, 16_402, 15_467, 8_467, 7_857, 7_272, 6_622)
        for place, (before, after) in enumerate(zip(at, at[1:], strict=False)):
            self.charge(cylinder, f"PL 4T{place}", before, after)
        self.send(cylinder, 6_615, Dispatch(partner, "heel-returned", "return to supplier", "PE-25-01"))
        return cylinder


def log_of(desk: Desk, cylinder: Any) -> Paper:
    return cylinder_log(desk.workshop, f"cylinder:{cylinder.account.number}", today=TODAY)


def note_of(desk: Desk, entry: Entry) -> Paper:
    return consignment_note(desk.workshop, f"line:{entry.seq}", today=TODAY)


def labels_of(desk: Desk, *cylinders: Any) -> Paper:
    numbers = ",".join(str(one.account.number) for one in cylinders)
    return cylinder_labels(desk.workshop, f"cylinders:{numbers}", today=TODAY)


def table(paper: Paper, caption: str) -> Table:
    return next(one for one in paper.blocks if isinstance(one, Table) and one.caption.startswith(caption))


def facts(paper: Paper, title: str) -> dict[str, str]:
    found = next(one for one in paper.blocks if isinstance(one, Facts) and one.title == title)
    return {name: value.replace("\N{NARROW NO-BREAK SPACE}", " ") for name, value in found.rows}


def accepted(entry: Entry, grams: int, oil: int | None = None) -> None:
    oil_mg = None if oil is None else oil * G
    away.accept(entry.consignment, accepted_mg=grams * G, oil_mg=oil_mg, on=date(2025, 12, 4), paper="ND-7741")


def refused(act: Callable[[], object]) -> str:
    with pytest.raises(NothingToIssue) as found:
        act()
    return str(found.value)
