"""A workshop's year, simulated: what really happens to the gas, and the facts that the records show of it.

Pure and seeded: the same seed gives the same year. Each visit draws from streams of its own, so that the honest and the
tricked year of a seed meet the same cars, the same slips and the same noise of the scales.
"""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from random import Random
from typing import Any

from compliance.rules.facts import Certificate, Deed, Instrument, Moved, Person, Vehicle, Visit, Workshop
from inventory.measure import uncertainty
from shop.bench.recovery import label_u_g
from shop.bench.residue import oil_allowance_g, vapour_g
from shop.demo.plans import OWNER, TRAINEE, Bottle, Kind, Plan, Scale
from tests.benchmarks.study_shelf import CHECKED_UNTIL, GAS, YEAR, Shelf

ATMOSPHERE_PA, FINAL_PA, SHOP_K = 101_325.0, 88_000.0, 293.15
VAPOUR_G_PER_M3 = vapour_g(GAS, pressure_pa=FINAL_PA, temperature_k=SHOP_K, volume_m3=1.0)
LABEL_TOLERANCE_G = 25.0


class Year(Shelf):
    """One year of a workshop of three. `months()` plays it and yields the facts at the end of each month."""

    def months(self) -> Iterator[Workshop]:
        """Play the year; yield the facts at the end of each month."""
        waiting = list(reversed(self.plans))
        day = date(YEAR, 1, 1)
        while day.year == YEAR:
            self._morning(day)
            while waiting and waiting[-1].start.date() == day:
                plan = self.trick.plan(self, waiting.pop())
                self.noise = Random(f"{self.seed}/{plan.number}/noise")
                self._visit(plan)
            day += timedelta(days=1)
            if day.day == 1:
                yield self.facts(day - timedelta(days=1))

    def facts(self, today: date) -> Workshop:
        """Return what the records show at the end of a day."""
        written = [number for number, day in self.known.items() if day <= today]
        names = [f"S{number}" for number in self.scales]
        return Workshop(
            jurisdiction="none",
            today=today,
            registration="R-1",
            people=_people(self.kind),
            visits=tuple(self.visits[number] for number in sorted(written)),
            cylinders=tuple(self.shown(one) for one in self.bottles.values()),
            readings=tuple(one for one in self.readings if one.recorded_at.date() <= today),
            differences=tuple(self.differences),
            lines=tuple(one for one in self.lines if one.recorded_at.date() <= today),
            consignments=tuple(self.consignments),
            tares=tuple(self.tares),
            instruments=tuple(Instrument("scale", name, CHECKED_UNTIL, today) for name in names),
        )

    def _morning(self, day: date) -> None:
        draw = Random(f"{self.seed}/{day}/morning")
        for scale in self.scales.values():
            scale.drift_to(day)
        for when, number, what in [one for one in self.due if one[0] == day]:
            self.due.remove((when, number, what))
            self.answered(day, number, what)
        self.noise = Random(f"{self.seed}/{day}/noise")
        if day.weekday() == 0:
            self.trick.weekly(self, day)
        if day.day == 10 and draw.random() < 0.5:
            self.drain("purge", draw.uniform(5, 30) * self.times, day, OWNER)
        if day.day == 20 and draw.random() < 0.4:
            self.drain("was-oil", draw.uniform(15, 45) * self.times, day, OWNER)

    def _visit(self, plan: Plan) -> None:
        car, held = plan.car, self.inside.get(plan.car.number)
        held_mg = held[0] if held else 0
        content_g = plan.holds * (held_mg / 1000 or car.nameplate_g)
        empty = plan.vented or plan.arrival in ("empty", "open")
        log = [self._deed(plan, "received", "received", state="open to air" if plan.arrival == "open" else "runs")]
        log[0] = replace(log[0], photographed=plan.arrival == "open" and "photo" not in plan.forgot)
        log.append(self._deed(plan, "label read", "label", label="label read"))
        if plan.arrival != "open" and "standing pressure" not in plan.forgot:
            stood = self._deed(plan, "standing pressure", "standing", pressure=self._stands_at(empty))
            log.append(replace(stood, photographed="photo" not in plan.forgot))
        out_mg = 0
        if not empty:
            recovery = self._recovered(plan, max(20.0 * self.times, content_g - plan.residue_g), held_mg)
            out_mg = next((one.mass_mg for one in recovery.moved if one.cause == "recovery"), 0)
            log.append(recovery)
            if held_mg > out_mg and "remainder settled" not in plan.forgot:
                log.append(self._remainder(plan, held_mg - out_mg))
        log += self._filled(plan) if self.kind.charges else self._taken_apart(plan)
        proof, missing_mg = ("", 0) if empty else self._proof(plan, held_mg or car.nameplate_g * 1000, held, out_mg)
        self.visits[plan.number] = Visit(
            number=plan.number,
            vehicle=Vehicle(car.number, car.vehicle_class, GAS, "", car.nameplate_g * 1000, date(2012, 1, 1)),
            opened_at=plan.start,
            closed_at=plan.at("out"),
            state="closed",
            deeds=tuple(sorted(log, key=lambda one: one.at)),
            proof=proof,
            missing_mg=missing_mg,
            previous_charge_on=held[1] if held else None,
            held_mg={GAS: held_mg} if held_mg else {},
        )
        self.known[plan.number] = (plan.start + plan.late).date()

    def _filled(self, plan: Plan) -> list[Deed]:
        log = self._work(plan)
        charge = self._charged(plan)
        log.append(charge)
        self.inside[plan.car.number] = charge.moved[0].mass_mg, charge.day
        if "after-search" not in plan.forgot:
            log.append(self._deed(plan, "after-search", "after", leaking=0.0, joints=14.0))
        log.append(self._deed(plan, "hand-over", "out", signed="yes"))
        return log

    def _taken_apart(self, plan: Plan) -> list[Deed]:
        opened = self._deed(plan, "circuit opened", "open", what="joint")
        return [opened, self._deed(plan, "part out", "mend", part="compressor")]

    def _deed(self, plan: Plan, kind: str, when: str, *moved: Moved, line: int | None = None, **answers: Any) -> Deed:
        at = plan.at(when)
        data = {name: value if isinstance(value, dict) else _answer(value) for name, value in answers.items()}
        self.next_line()  # a deed counts too: what reclaimers do is drawn by these numbers
        return Deed(kind, at, at + plan.late, plan.doer, plan.answers, data, line, tuple(moved))

    def _stands_at(self, empty: bool) -> float:
        return ATMOSPHERE_PA + (self.noise.uniform(0, 3_000) if empty else self.noise.uniform(250_000, 600_000))

    def _work(self, plan: Plan) -> list[Deed]:
        found = plan.mended == "repair"
        log = [self._deed(plan, "leak search", "search", leaking=1.0 if found else 0.0, joints=14.0)]
        if plan.mended:
            log += [
                self._deed(plan, "circuit opened", "open", what="joint"),
                self._deed(plan, plan.mended, "mend", joint="hose", part="compressor"),
                self._deed(plan, "circuit closed", "close", what="joint"),
            ]
        log.append(self._deed(plan, "pulling vacuum", "vacuum", lowest=50.0))
        log.append(self._deed(plan, "vacuum hold", "hold", gauge_type="absolute"))
        return log

    def _pair(
        self, plan: Plan, bottle: Bottle, scale: Scale, when: str, change_g: float, typed_mg: int | None
    ) -> tuple[int, int]:
        """Weigh, move gas, weigh again; return (milligrams that the cylinder gained by what is written, line)."""
        at, zero_g = plan.at(when), self.session(scale)
        before_mg = self.settle(bottle, scale, zero_g, at - timedelta(minutes=10), plan.doer)
        held_mg = bottle.book_mg
        bottle.content_g += change_g
        # A bottle that gave gas is cold: now and then dew still stands on it.
        dew_g = self.noise.uniform(2, 10) if self.noise.random() < 0.02 else 0.0
        after_mg = self.look(bottle, scale, zero_g + dew_g)
        if typed_mg is not None:
            step_mg = round(scale.step_g * 1000)
            after_mg = before_mg + round(typed_mg / step_mg) * step_mg
        line = self.write_reading(bottle, scale, after_mg, "after", at, at + plan.late, plan.doer)
        bottle.book_mg, bottle.last = max(0, after_mg - bottle.tare_mg), (scale, after_mg)
        return bottle.book_mg - held_mg, line

    def _recovered(self, plan: Plan, out_g: float, held_mg: int) -> Deed:
        bottle, scale = self.recovery_for(plan), self.scales[2 if plan.other_scale else 1]
        typed_mg = plan.car.nameplate_g * 1000 if plan.fake else None
        gained_mg, line = self._pair(plan, bottle, scale, "recovery", 0.0 if plan.fake else out_g, typed_mg)
        if plan.fake:
            bottle.tampered = True
        if plan.fake == "carried on":
            bottle.phantom_g += gained_mg / 1000
        bottle.days.setdefault("first in", plan.start.date())
        bottle.days["filled"] = plan.start.date()
        at, late = plan.at("recovery"), plan.at("recovery") + plan.late
        moved = []
        if gained_mg > held_mg:
            self.write_line(
                "found-in-vehicle", gained_mg - held_mg, at, plan.doer, recorded_at=late, line=line, visit=plan.number
            )
            moved.append(
                Moved("found-in-vehicle", "pair", GAS, "", gained_mg - held_mg, 2_040.0 * self.times, line=line)
            )
        self.write_line(
            "recovery", gained_mg, at, plan.doer, bottle=bottle, recorded_at=late, line=line, visit=plan.number
        )
        moved.append(Moved("recovery", "pair", GAS, "recovered", gained_mg, 2_040.0 * self.times, bottle.number, line))
        more = {"stopped": "done", "final_pressure": FINAL_PA - 3_000, "pressure_after_wait": FINAL_PA}
        return self._deed(plan, "recovery", "recovery", *moved, line=line, **more)

    def _remainder(self, plan: Plan, left_mg: int) -> Deed:
        bound_g = VAPOUR_G_PER_M3 * plan.car.volume_m3 + oil_allowance_g(plan.car.oil_g)
        residue_mg = min(left_mg, round(bound_g * 500))
        parts = {"evacuated-residue": ("computed", residue_mg), "lost-on-the-road": ("rest", left_mg - residue_mg)}
        line, moved, at = self.next_line(), [], plan.at("settled")
        for cause, (basis, mass_mg) in parts.items():
            if mass_mg > 0:
                facts: dict[str, Any] = {
                    "basis": basis,
                    "recorded_at": at + plan.late,
                    "line": line,
                    "visit": plan.number,
                }
                self.write_line(cause, mass_mg, at, plan.doer, **facts)
                moved.append(Moved(cause, basis, GAS, "", mass_mg, 2_500.0 * self.times, line=line))
        return self._deed(plan, "remainder settled", "settled", *moved, line=line, evidence="C")

    def _proof(self, plan: Plan, expected_mg: int, held: tuple[int, date] | None, out_mg: int) -> tuple[str, int]:
        """Judge the recovery as `shop.bench.recovery.prove` does, with the vapour of one pressure looked up once."""
        u_g = 2.0 * self.times if held else label_u_g(LABEL_TOLERANCE_G * self.times)
        bound_g = VAPOUR_G_PER_M3 * plan.car.volume_m3 + oil_allowance_g(plan.car.oil_g)
        beyond_g = (expected_mg - out_mg) / 1000 - bound_g - uncertainty.give_or_take(u_g)
        return ("accounted for", 0) if beyond_g <= 0 else ("short", round(beyond_g * 1000))

    def _charged(self, plan: Plan) -> Deed:
        car, scale = plan.car, self.scales[1 if plan.other_scale else 2]
        target_mg = round(car.nameplate_g / 10) * 10_000
        charge_g = target_mg / 1000 + plan.off_target * max(6.0 * self.times, 2.5 * scale.step_g)
        bottle = self.bottle_for(plan, charge_g)
        typed_mg = self.trick.typed_charge_mg(self, plan, target_mg)
        gained_mg, line = self._pair(plan, bottle, scale, "charge", -charge_g, None if typed_mg is None else -typed_mg)
        given_mg = -gained_mg
        slip_mg = plan.slip_mg if abs(plan.slip_mg) < given_mg else 0
        if slip_mg:
            # Typed that much too high: the charge looks smaller, and the next weighing finds it missing.
            given_mg -= slip_mg
            bottle.book_mg += slip_mg
            bottle.slip = plan.number, slip_mg
        bottle.tampered |= typed_mg is not None
        bottle.days["out"] = plan.start.date()
        at, late = plan.at("charge"), plan.at("charge") + plan.late
        self.write_line(
            "charge", given_mg, at, plan.doer, bottle=bottle, recorded_at=late, line=line, visit=plan.number
        )
        moved = Moved("charge", "pair", GAS, "virgin", given_mg, 2_040.0 * self.times, bottle.number, line)
        target = {"text": f"{target_mg // 1000} g", "si": target_mg / 1e6, "mg": target_mg, "unit": "g", "echo": ""}
        return self._deed(plan, "charge", "charge", moved, line=line, target=target, phase="liquid")


def _answer(value: object) -> dict[str, object]:
    return {"text": str(value), "si": None if isinstance(value, str) else value, "echo": str(value)}


def _people(kind: Kind) -> dict[str, Person]:
    held = Certificate("motor vehicle air conditioning", date(2020, 1, 1), None, True)
    people = {
        name: Person(name, "owner" if name == OWNER else "technician", True, False, None, (held,))
        for name in kind.shares
    }
    if TRAINEE in people:
        people[TRAINEE] = Person(TRAINEE, "technician", True, True, date(YEAR - 1, 9, 2))
    return people
