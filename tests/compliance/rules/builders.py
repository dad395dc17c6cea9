"""Builders of the facts that rules look at. Each gives a working default and takes what the test is about.

The default visit is whole: it arrived, its label, ports and standing pressure were read, the gas was identified and
recovered, a joint repaired and searched, the circuit evacuated, charged with new gas, searched again, handed over, all
by one person who holds a certificate. Masses are given in grams here, times in UTC.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from itertools import count
from typing import Any

from compliance.rules.facts import (
    Certificate,
    Consignment,
    Cylinder,
    Deed,
    Difference,
    Instrument,
    Line,
    Moved,
    Person,
    Reading,
    TareChange,
    Vehicle,
    Visit,
    Workshop,
)
from compliance.rules.rule import Judgement, Rule, judge

G = 1000  # milligrams
DAY = date(2025, 3, 3)
TODAY = date(2025, 12, 31)
ATMOSPHERE_PA = 101_325.0
TECHNICIAN, TRAINEE, OWNER = "p-tech", "p-train", "p-owner"
_numbers = count(1)


def at(day: date = DAY, hour: float = 9.0) -> datetime:
    """A moment of a day, by its hour."""
    return datetime(day.year, day.month, day.day, tzinfo=UTC) + timedelta(hours=hour)


def answer(value: Any) -> Mapping[str, Any]:
    """A field's answer as a step holds it: a text has no SI value, a number is its own text."""
    if isinstance(value, str):
        return {"text": value, "si": None, "echo": value}
    return {"text": str(value), "si": value, "echo": str(value)}


def certificate(scheme: str = "motor vehicle air conditioning, section 609", **facts: Any) -> Certificate:
    """A certificate that was held from 2020 and never ends."""
    defaults = {"issued_on": date(2020, 1, 1), "expires_on": None, "never_expires": True}
    return Certificate(scheme=scheme, **{**defaults, **facts})


def person(handle: str = TECHNICIAN, *certificates: Certificate, **facts: Any) -> Person:
    """An active technician who holds the certificates given, none where none is given."""
    defaults = {"role": "technician", "active": True, "trainee": False, "enrolled_on": None}
    return Person(handle=handle, certificates=certificates, **{**defaults, **facts})


def trainee(enrolled_on: date | None = date(2024, 9, 2), **facts: Any) -> Person:
    """A trainee without any certificate."""
    return person(TRAINEE, trainee=True, enrolled_on=enrolled_on, **facts)


def moved(cause: str, mass_g: float, refrigerant: str = "R-134a", grade: str = "recovered", **facts: Any) -> Moved:
    """One movement of a step, by two weighings."""
    defaults = {"basis": "pair", "u_mg": 2_040.0, "cylinder": 35}
    return Moved(cause=cause, refrigerant=refrigerant, grade=grade, mass_mg=round(mass_g * G), **{**defaults, **facts})


def deed(kind: str, *movements: Moved, on: date = DAY, hour: float = 9.0, by: str = TECHNICIAN, **facts: Any) -> Deed:
    """A step done and written at once. What is no field of `Deed` is an answer: ``deed("repair", joint="hose")``."""
    of_deed = ("recorded_at", "answers", "line", "photographed", "data")
    named = {name: facts.pop(name) for name in of_deed if name in facts}
    data = {**{name.rstrip("_"): answer(value) for name, value in facts.items()}, **named.pop("data", {})}
    moment = at(on, hour)
    defaults = {"recorded_at": moment}
    return Deed(kind=kind, at=moment, doer=by, data=data, moved=movements, **{"answers": "", **defaults, **named})


def vehicle(number: int = 101, **facts: Any) -> Vehicle:
    """A car first registered in 2010, for 700 g of R-134a."""
    defaults = {
        "vehicle_class": "car",
        "refrigerant": "R-134a",
        "original_refrigerant": "",
        "nameplate_mg": 700 * G,
        "first_registered": date(2010, 5, 4),
    }
    return Vehicle(number=number, **{**defaults, **facts})


def received(on: date = DAY, state: str = "warm", **facts: Any) -> Deed:
    return deed("received", on=on, hour=8.0, state=state, **facts)


def standing(gauge_pa: float = 470_000.0, *, on: date = DAY, **facts: Any) -> Deed:
    """A standing pressure, given above the atmosphere."""
    return deed("standing pressure", on=on, hour=8.5, pressure=ATMOSPHERE_PA + gauge_pa, **facts)


def recovery(mass_g: float = 690, *, on: date = DAY, hour: float = 9.0, **facts: Any) -> Deed:
    """A recovery into a cylinder, found in the vehicle first; it ran to its end and held."""
    gas = {name: facts.pop(name) for name in ("refrigerant", "cylinder") if name in facts}
    grade = facts.pop("grade", "recovered")
    code = gas.get("refrigerant", "R-134a")
    movements = [moved("found-in-vehicle", mass_g, code, "", cylinder=None)] if mass_g else []
    movements += [moved("recovery", mass_g, grade=grade, **gas)] if mass_g else []
    defaults = {"stopped": "done", "final_pressure": 87_780.0, "pressure_after_wait": 90_000.0}
    return deed("recovery", *movements, on=on, hour=hour, **{**defaults, **facts})


def charge(mass_g: float = 700, *, on: date = DAY, hour: float = 14.0, grade: str = "virgin", **facts: Any) -> Deed:
    """A charge of new gas out of a cylinder."""
    gas = {name: facts.pop(name) for name in ("refrigerant", "cylinder", "basis") if name in facts}
    source = {"cylinder": 34, **gas}
    return deed("charge", moved("charge", mass_g, grade=grade, **source), on=on, hour=hour, **facts)


def repair(on: date = DAY, hour: float = 11.0, **facts: Any) -> Deed:
    return deed("repair", on=on, hour=hour, **{"joint": "hose", "what": "renewed", **facts})


def leak_search(leaking: int = 0, *, on: date = DAY, hour: float = 12.0, **facts: Any) -> Deed:
    defaults = {"method": "electronic", "joints": 14, "gas": "dry nitrogen"}
    return deed("leak search", on=on, hour=hour, leaking=leaking, **{**defaults, **facts})


def whole_log(on: date = DAY) -> tuple[Deed, ...]:
    """The deeds of a visit at which nothing is left out."""
    return (
        received(on),
        deed("label read", on=on, hour=8.1, label="label read", refrigerant="R-134a", mass=0.7),
        deed("ports seen", on=on, hour=8.2, high="R-134a quick coupler", low="R-134a quick coupler"),
        standing(on=on, photographed=True),
        deed("identified", on=on, hour=8.7, result="used", shares="R-134a 99.5"),
        recovery(on=on),
        deed("circuit opened", on=on, hour=10.0, what="condenser", relieved="yes"),
        repair(on),
        deed("circuit closed", on=on, hour=11.5, what="condenser", capped="yes"),
        leak_search(on=on),
        deed("pulling vacuum", on=on, hour=12.5, lowest=50.0),
        deed("vacuum hold", on=on, hour=13.0, gauge_type="absolute"),
        charge(on=on),
        deed("running test", on=on, hour=15.0, vent=281.0),
        deed("after-search", on=on, hour=15.5, joints=14, leaking=0),
        deed("hand-over", on=on, hour=16.0, signed="yes"),
    )


def visit(*deeds: Deed, on: date = DAY, handed_over: bool = True, number: int = 12, **facts: Any) -> Visit:
    """A visit of one day with these deeds, a whole one where none are given; handed over unless said otherwise."""
    log = tuple(sorted(deeds or whole_log(on), key=lambda one: one.at))
    defaults = {
        "vehicle": vehicle(),
        "opened_at": at(on, 8.0),
        "closed_at": at(on, 16.0) if handed_over else None,
        "state": "closed" if handed_over else "open",
        "proof": "" if deeds else "accounted for",
    }
    return Visit(number=number, deeds=log, **{**defaults, **facts})


def without(one: Visit, *kinds: str, **facts: Any) -> Visit:
    """A visit without its deeds of some kinds."""
    return replace(one, deeds=tuple(each for each in one.deeds if each.kind not in kinds), **facts)


def cylinder(number: int = 35, **facts: Any) -> Cylinder:
    """A recovery cylinder of R-134a, half full, tested until 2030."""
    held_g = facts.pop("held_g", 5_000)
    defaults = {
        "kind": "recovery",
        "refrigerant": "R-134a",
        "grade": "recovered",
        "state": "ready",
        "limit_mg": 9_654 * G,
        "limit_rule": "80 %",
        "requalify_by": date(2030, 1, 1),
        "paper_number": "",
        "first_in_on": date(2025, 1, 1),
        "last_weighed_on": DAY,
        "filled_on": DAY,
    }
    return Cylinder(number=number, held_mg=round(held_g * G), **{**defaults, **facts})


def reading(gross_g: float = 11_420, *, line: int = 50, on: date = DAY, hour: float = 9.0, **facts: Any) -> Reading:
    """A reading of cylinder 35 on a scale of 5 g steps whose check holds, written at once."""
    moment = at(on, hour)
    defaults = {
        "cylinder": 35,
        "at": moment,
        "recorded_at": moment,
        "role": "check",
        "step_mg": 5 * G,
        "u_mg": 3_230.0,
        "by": TECHNICIAN,
    }
    return Reading(line=line, gross_mg=round(gross_g * G), **{**defaults, **facts})


def difference(mass_g: float = 180, *, line: int = 60, on: date = DAY, **facts: Any) -> Difference:
    """A weighing difference of cylinder 35, all of it unexplained unless `open_mg` says otherwise."""
    mass_mg = round(mass_g * G)
    defaults = {"cylinder": 35, "open_mg": mass_mg, "can_tell_mg": 9_130, "u_mg": 4_565.0, "by": TECHNICIAN}
    return Difference(line=line, on=on, mass_mg=mass_mg, **{**defaults, **facts})


def line(cause: str = "purchase", mass_g: float = 10_990, *, on: date = DAY, hour: float = 9.0, **facts: Any) -> Line:
    """A line of new R-134a, written at once."""
    moment = at(on, hour)
    defaults = {
        "line": next(_numbers),
        "at": moment,
        "recorded_at": moment,
        "basis": "single",
        "refrigerant": "R-134a",
        "grade": "virgin",
        "u_mg": 30_700.0,
        "cylinder": 34,
        "visit": None,
        "by": TECHNICIAN,
    }
    return Line(cause=cause, on=on, mass_mg=round(mass_g * G), **{**defaults, **facts})


def consignment(mass_g: float = 3_358, *, purpose: str = "reclaim", on: date = DAY, **facts: Any) -> Consignment:
    """Recovered R-134a sent to a reclaimer whose address is entered and who accepted it."""
    mass_mg = round(mass_g * G)
    defaults = {
        "line": next(_numbers),
        "number": "2025-1",
        "cylinder": 35,
        "has_address": True,
        "refrigerant": "R-134a",
        "grade": "recovered",
        "u_mg": 4_560.0,
        "accepted_mg": mass_mg,
        "oil_mg": 0,
        "paper_number": "A-77",
    }
    return Consignment(on=on, purpose=purpose, mass_mg=mass_mg, **{**defaults, **facts})


def tare(change_g: float = 100, *, cylinder: int = 35, on: date = DAY, **facts: Any) -> TareChange:
    """A new tare measured on the evacuated cylinder, photographed."""
    defaults = {"source": "measured evacuated", "photographed": True}
    return TareChange(cylinder=cylinder, on=on, change_mg=round(change_g * G), **{**defaults, **facts})


def instrument(name: str = "S1", **facts: Any) -> Instrument:
    """A scale whose check holds."""
    return Instrument(name=name, **{"kind": "scale", "good_until": date(2026, 6, 30), "last_used_on": DAY, **facts})


def workshop(jurisdiction: str = "none", *visits: Visit, people: Sequence[Person] = (), **facts: Any) -> Workshop:
    """A workshop at the end of its year, with a certified technician and the trainee; `people` take their place."""
    cast = people or (person(TECHNICIAN, certificate()), trainee())
    defaults = {"today": TODAY, "registration": "R-1"}
    return Workshop(
        jurisdiction=jurisdiction, visits=visits, people={one.handle: one for one in cast}, **{**defaults, **facts}
    )


def said(rule: Rule, facts: Workshop) -> list[str]:
    """The states that a rule finds, in its order."""
    return [one.state for one in judge(rule, facts)]


def only(rule: Rule, facts: Workshop) -> Judgement:
    """The one judgement of a rule; fails where there are none or more."""
    (found,) = judge(rule, facts)
    return found


def plain(words: str) -> str:
    """A sentence with ordinary spaces before its units."""
    return words.replace("\N{NARROW NO-BREAK SPACE}", " ")
