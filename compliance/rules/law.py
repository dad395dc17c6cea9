"""What rules of law of several countries ask of the record alike: gases, who did what, openings, losses. Pure.

Families are the catalogue's. A mixed or unknown content may hold anything, so it *may contain* and never *contains*.
"""

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import lru_cache

from compliance.rules.facts import Consignment, Deed, Moved, Person, Vehicle, Visit, Workshop
from compliance.rules.rule import BREACH, MET, OPEN, Judgement
from compliance.rules.seen import (
    OPENINGS,
    RECOVERIES,
    about_visit,
    above_the_air,
    arrived_open,
    grams,
    left_evacuated,
    moves,
    stood_empty,
    was_empty,
)
from inventory.gases.catalogue import MIXED, NoFigure, UnknownRefrigerant, gwp, refrigerant
from shop.visits.steps import HELD_BACK_AS, si_of, text_of

HFC = ("HFC",)
FLUORINATED = ("HFC", "PFC", "HFO", "HCFO")
ANY_HALOCARBON = ("CFC", "HCFC", "HCFO", "HFC", "PFC", "HFO")
USED_GRADES = ("recovered", "recycled", "suspect")  # was in a system, and no reclaimer has had it
UNTREATED = ("recovered", "suspect")
GAS_ACTS = ("recovery", "charge")
LIGHT = ("car", "van")  # nearest to M1 cars and N1 class I goods vehicles that the record knows
YARDSTICK_MG = 40_000  # a year: type approval of a new single-evaporator system, Directive 2006/40/EC
_ACTS = {"circuit opened": "opening", "part out": "taking out a part", "part in": "fitting a part"}
_DENIED = ("no", "none", "nothing", "not fitted", "not there", "not done", "missing", "old", "original", "as before")


@lru_cache(maxsize=1024)
def parts_of(code: str) -> frozenset[str]:
    """Return the codes of the parts of a refrigerant, empty where it is mixed or not known."""
    if not code or code == MIXED:
        return frozenset()
    try:
        return frozenset(part for part, _ in refrigerant(code).components)
    except UnknownRefrigerant:
        return frozenset()


@lru_cache(maxsize=1024)
def families(code: str) -> frozenset[str]:
    """Return the families of the parts of a refrigerant, empty where it is mixed or not known."""
    return frozenset(refrigerant(part).family for part in parts_of(code))


def contains(code: str, wanted: Iterable[str]) -> bool:
    """Whether a part of the refrigerant is of one of these families, as far as it is known."""
    return not families(code).isdisjoint(wanted)


def may_contain(code: str, wanted: Iterable[str]) -> bool:
    """Whether a part is, or could be, of one of these families."""
    return not families(code) or contains(code, wanted)


def ozone_depleting(code: str) -> bool:
    """Whether a part of the refrigerant is controlled by the Montreal Protocol, as far as it is known."""
    return any(refrigerant(part).contains_ods for part in parts_of(code))


def warming(code: str, *bases: str) -> Decimal | None:
    """Return the GWP on the first of these bases that has one, None where none has."""
    for basis in bases:
        try:
            return gwp(code, basis).value
        except (NoFigure, UnknownRefrigerant):
            continue
    return None


def dated(day: date) -> str:
    """Return a day as prose has it: 4 March 2026."""
    return f"{day.day} {day:%B %Y}"


def denied(text: str) -> bool:
    """Whether an answer says that a thing is not there or was left as it was."""
    return text.strip().lower().rstrip(".") in _DENIED


# --- what is in the vehicle, and what it was turned to ----------------------------------------------------------


def inside(visit: Visit) -> str:
    """Return what was in the vehicle on arrival: as the book, the label or the vehicle's record has it, or empty."""
    for deed in visit.of("received"):
        kept = deed.data.get(HELD_BACK_AS) or {}
        if kept.get("refrigerant"):
            return str(kept["refrigerant"])
    labelled = [text_of(deed.data, "refrigerant") for deed in visit.of("label read")]
    if any(labelled):
        return next(code for code in reversed(labelled) if code)
    vehicle = visit.vehicle
    return (vehicle.original_refrigerant if visit.of("conversion done") else "") or vehicle.refrigerant


@dataclass(frozen=True)
class Retrofit:
    """A visit at which a system was turned from one refrigerant to another; what is not there yet is None."""

    visit: Visit
    old: str
    new: str
    done: Deed | None
    charged: Deed | None
    day: date  # of the charge; of the conversion where nothing is charged yet


def retrofits(facts: Workshop) -> Iterator[Retrofit]:
    """Yield the visits at which another refrigerant than that on arrival was charged or entered."""
    for visit in facts.visits:
        done = visit.of("conversion done")
        old, charges = inside(visit), list(moves(visit, "charge"))
        to = text_of(done[-1].data, "to") if done else ""
        new = to or next((one.refrigerant for _, one in charges if one.refrigerant != old), "")
        if not (old and new) or new == old:
            continue
        charged = next((deed for deed, one in charges if one.refrigerant == new), None)
        day = charged.day if charged else done[-1].day
        yield Retrofit(visit, old, new, done[-1] if done else None, charged, day)


# --- who did it -------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Work:
    """What one person did at one visit on one day, and who answered for it."""

    visit: Visit
    day: date
    doer: str
    answers: str
    deeds: tuple[Deed, ...]

    @property
    def words(self) -> str:
        """The acts and their day, to begin a sentence: "Recovery and charge on 4 March 2026"."""
        kinds = list(dict.fromkeys(_ACTS.get(deed.kind, deed.kind) for deed in self.deeds))
        listed = " and ".join(filter(None, (", ".join(kinds[:-1]), kinds[-1])))
        return f"{listed.capitalize()} on {dated(self.day)}"

    def judged(self, state: str, words: str, way_out: str = "") -> Judgement:
        """Return a judgement of this work."""
        part = " ".join(filter(None, (self.day.isoformat(), self.doer, self.answers)))
        return Judgement(state, about_visit(self.visit), words, way_out, self.day, self.deeds[0].line, self.doer, part)


def works(facts: Workshop, wanted: Callable[[Visit, Deed], bool]) -> Iterator[Work]:
    """Yield the wanted deeds, put together by visit, day, doer and who answers, in the order of the log."""
    for visit in facts.visits:
        groups: dict[tuple[date, str, str], list[Deed]] = {}
        for deed in visit.deeds:
            if wanted(visit, deed):
                groups.setdefault((deed.day, deed.doer, deed.answers), []).append(deed)
        for (day, doer, answers), deeds in groups.items():
            yield Work(visit, day, doer, answers, tuple(deeds))


def gases(visit: Visit, deed: Deed) -> tuple[str, ...]:
    """Return the refrigerants that a deed moved; what was in the vehicle where it moved none."""
    return tuple(dict.fromkeys(one.refrigerant for one in deed.moved)) or (inside(visit),)


def schemes(person: Person, day: date) -> str:
    """Return the names of the certificates that a person held on a day, and their scopes."""
    held = [one for one in person.certificates if one.holds_on(day)]
    return "; ".join(" ".join(filter(None, (one.scheme, one.scope))) for one in held)


def gas_handlers(facts: Workshop) -> Iterator[tuple[Person, date]]:
    """Yield each active person who moved gas, with the last day of it."""
    last: dict[str, date] = {}
    for work in works(facts, lambda visit, deed: deed.kind in GAS_ACTS):
        last[work.doer] = max(work.day, last.get(work.doer, work.day))
    for handle, day in last.items():
        person = facts.people.get(handle)
        if person is not None and person.active:
            yield person, day


@dataclass(frozen=True)
class Charged:
    """What was charged at one visit of one refrigerant and grade, all legs together."""

    refrigerant: str
    grade: str
    legs: tuple[tuple[Deed, Moved], ...]

    @property
    def words(self) -> str:
        """Mass, grade and refrigerant: "545 g of recycled R-134a"."""
        return f"{grams(sum(one.mass_mg for _, one in self.legs))} of {self.grade} {self.refrigerant}"

    def judged(self, visit: Visit, state: str, words: str, way_out: str = "") -> Judgement:
        """Return a judgement of this charge."""
        deed = self.legs[0][0]
        part = f"{self.refrigerant} {self.grade}"
        return Judgement(state, about_visit(visit), words, way_out, deed.day, deed.line, deed.doer, part)


def charged(visit: Visit) -> Iterator[Charged]:
    """Yield what was charged at a visit, by refrigerant and grade."""
    groups: dict[tuple[str, str], list[tuple[Deed, Moved]]] = {}
    for deed, one in moves(visit, "charge"):
        groups.setdefault((one.refrigerant, one.grade), []).append((deed, one))
    for (code, grade), legs in groups.items():
        yield Charged(code, grade, tuple(legs))


def sent(one: Consignment, state: str, words: str, way_out: str = "") -> Judgement:
    """Return a judgement of a consignment."""
    return Judgement(state, f"consignment:{one.line}", words, way_out, one.on, one.line)


def released(
    facts: Workshop, covered: Callable[[str], bool], lost: Mapping[str, str], remark: str
) -> Iterator[Judgement]:
    """Judge lines that let gas go: as exempt though it is not, or by one of the causes that `lost` puts in words."""
    for line in facts.lines:
        if line.cause not in (*lost, "released-exempt") or not covered(line.refrigerant):
            continue
        gone = f"{grams(line.mass_mg)} of {line.refrigerant}"
        about, where = f"line:{line.line}", (line.on, line.line, line.by)
        if line.cause == "released-exempt":
            words = f"{gone} was written as released because it is exempt, and it is not."
            yield Judgement(BREACH, about, words, "Reverse the line if it is wrong; otherwise explain.", *where)
        else:
            words = f"{gone} {lost[line.cause]}; {remark}"
            yield Judgement(OPEN, about, words, "Say what happened and what was done about it.", *where)


# --- gas out before the circuit is opened -----------------------------------------------------------------------


def openings(facts: Workshop, covered: Callable[[str], bool]) -> Iterator[Judgement]:
    """Judge each visit whose circuit was opened, and say where a recovery is owed; `covered` takes the refrigerant."""
    for visit in facts.visits:
        if not covered(inside(visit)):
            continue
        places = [place for place, deed in enumerate(visit.deeds) if deed.kind in OPENINGS]
        judged = [_opened(visit, place) for place in places]
        owed = None if judged else _owed(visit)
        worst = next((one for one in judged if one.state != MET), judged[0] if judged else owed)
        if worst is not None:
            yield worst


def _opened(visit: Visit, place: int) -> Judgement:
    """Judge one opening by what stands before it; after a charge, by what stands since."""
    opened, before = visit.deeds[place], visit.deeds[:place]
    charges = [at for at, deed in enumerate(before) if deed.kind == "charge"]
    if charges:
        return _opened_again(visit, opened, before[charges[-1] + 1 :])
    legs = [deed for deed in before if deed.kind == "recovery"]
    stood = [deed for deed in before if deed.kind == "standing pressure"]
    state, words, way_out = MET, "", ""
    if arrived_open(visit):
        words = "The circuit stood open when the vehicle came, so there was nothing to recover."
    elif legs and (_ended(legs[-1]) or visit.proof == "accounted for" or visit.emptied):
        words = "It was recovered before the circuit was opened."
    elif legs:
        state, words = BREACH, f"The recovery stopped ({text_of(legs[-1].data, 'stopped')}) and the circuit was opened."
        way_out = "Enter the further leg if there was one; otherwise explain what became of what was left."
    elif left_evacuated(visit):
        words = "The book had left it evacuated, so there was nothing to recover."
    elif was_empty(visit, before):
        words = "It stood at no more than the atmosphere before the circuit was opened."
    else:
        state = BREACH
        seen = f"{_shown(visit, stood[-1])} above the atmosphere" if stood else "a pressure that nobody wrote down"
        words = f"The circuit was opened with no recovery before; it stood at {seen}."
        way_out = "Enter the recovery if there was one, with its time; otherwise explain what became of the gas."
    return Judgement(state, about_visit(visit), words, way_out, opened.day, opened.line, opened.doer, "opened")


def _opened_again(visit: Visit, opened: Deed, since: Iterable[Deed]) -> Judgement:
    since = tuple(since)
    emptied = was_empty(visit, since) or any(deed.kind == "recovery" for deed in since)
    where = (opened.day, opened.line, opened.doer, "opened")
    if emptied:
        return Judgement(MET, about_visit(visit), "It was empty when the circuit was opened again.", "", *where)
    words = "As entered, the circuit was opened after a charge, with no recovery between."
    way_out = "Enter the recovery, or the opening anew with its own time."
    return Judgement(OPEN, about_visit(visit), words, way_out, *where)


def _shown(visit: Visit, deed: Deed) -> str:
    return f"{above_the_air(visit, deed) or 0:.1f} bar"


def _ended(leg: Deed) -> bool:
    return text_of(leg.data, "stopped") in ("", "done")


def _owed(visit: Visit) -> Judgement | None:
    stood = visit.of("standing pressure")
    if visit.handed_over or visit.of(*GAS_ACTS) or not stood or stood_empty(visit, stood[-1]) or arrived_open(visit):
        return None
    return Judgement(
        OPEN,
        about_visit(visit),
        f"It stood at {_shown(visit, stood[-1])} above the atmosphere; recovery is owed before the circuit is opened.",
        "Recover, or hand the vehicle over with the circuit closed.",
        stood[-1].day,
        stood[-1].line,
        part="opened",
    )


# --- a loss, and the repair before the next fill ----------------------------------------------------------------


@dataclass(frozen=True)
class Loss:
    """A sign that more leaked than a tight system lets go; `certain` where nothing else explains it."""

    words: str
    certain: bool
    leak_found: bool = False


def loss_before(visit: Visit, deeds: Iterable[Deed]) -> Loss | None:
    """Return the sign of an abnormal loss among these deeds of a visit, or None.

    What counts: a joint found leaking; a system that arrived empty, closed; mass missing beyond what label, readings
    and residue can tell. Missing since a charge of ours at 40 g a year or less is not counted: that is what a new
    system may lose for type approval. Missing against the label alone, with no day of the last charge, is not certain.
    """
    searches = [deed for deed in deeds if deed.kind in ("leak search", "after-search")]
    leaking = max((_leaking(deed) for deed in searches), default=0)
    if leaking:
        return Loss(f"{leaking} joint{'' if leaking == 1 else 's'} were found leaking", True, leak_found=True)
    if arrived_open(visit):
        return None
    if visit.proof == "arrived empty":
        return Loss("it arrived empty", True)
    if visit.missing_mg <= 0:
        return None
    missing = f"{grams(visit.missing_mg)} is missing beyond what label, readings and residue can tell"
    if visit.previous_charge_on is None:
        return Loss(f"{missing}, and the day of the last charge is not known", False)
    days = max(1, (visit.opened_at.date() - visit.previous_charge_on).days)
    if visit.missing_mg * 365 <= YARDSTICK_MG * days:
        return None
    return Loss(f"{missing}, {days} days after the last charge", True)


def _leaking(deed: Deed) -> int:
    return int(float(si_of(deed.data, "leaking") or 0))


def repaired_first(visit: Visit, today: date) -> Judgement | None:
    """Judge whether a repair and a leak search stand between an abnormal loss and the fill; None without a loss."""
    charges = visit.of("charge")
    found = None
    for charge in charges:
        before = [deed for deed in visit.deeds if deed.at <= charge.at and deed is not charge]
        loss = loss_before(visit, before)
        if loss is not None:
            found = _filled(visit, charge, before, loss)
            if found.state != MET:
                return found
    if charges or visit.handed_over:
        return found
    loss = loss_before(visit, visit.deeds)
    if loss is None or _mended(visit.deeds):
        return None
    return Judgement(
        OPEN,
        about_visit(visit),
        f"Abnormal loss: {loss.words}; no fill before the repair is complete.",
        "Enter the repair and the leak search that shows it, then charge.",
        visit.deeds[-1].day if visit.deeds else today,
        part="fill",
    )


def _filled(visit: Visit, charge: Deed, before: list[Deed], loss: Loss) -> Judgement:
    searched = any(deed.kind in ("leak search", "after-search") for deed in before)
    tried = searched and not loss.leak_found and not any(deed.kind in ("repair", "part in") for deed in before)
    if _mended(before):
        state, way_out = MET, ""
        words = f"There was a loss ({loss.words}); a repair and a leak search stand before the fill."
    elif tried:
        state, way_out = OPEN, "Enter what was mended or renewed, or say where the gas went."
        words = f"It was filled after a loss ({loss.words}); the leak search found nothing and nothing was mended."
    else:
        state = BREACH if loss.certain else OPEN
        way_out = "Enter the repair and the leak search if they were done before the fill; otherwise explain."
        words = f"It was filled after a loss ({loss.words}) with no repair and leak search before."
    return Judgement(state, about_visit(visit), words, way_out, charge.day, charge.line, charge.doer, "fill")


def _mended(deeds: Iterable[Deed]) -> bool:
    """Whether a repair and a leak search stand, and the last search found nothing or was answered by a repair."""
    mended, search = None, None
    for deed in deeds:
        if deed.kind in ("repair", "part in"):
            mended = deed
        elif deed.kind in ("leak search", "after-search"):
            search = deed
    if mended is None or search is None:
        return False
    return _leaking(search) == 0 or mended.at >= search.at


# --- vehicles and cylinders -------------------------------------------------------------------------------------


def latest_visits(facts: Workshop) -> Iterator[tuple[Vehicle, list[Visit]]]:
    """Yield each vehicle with its visits, by day."""
    by_vehicle: dict[int, list[Visit]] = {}
    for visit in sorted(facts.visits, key=lambda one: one.opened_at):
        by_vehicle.setdefault(visit.vehicle.number, []).append(visit)
    for visits in by_vehicle.values():
        yield visits[-1].vehicle, visits


def filled_past_date(facts: Workshop) -> Iterator[Judgement]:
    """Judge refillable and recovery cylinders by the day of their last filling and their test date."""
    for one in facts.cylinders:
        if one.kind not in ("refillable", "recovery") or one.filled_on is None:
            continue
        about = f"cylinder:{one.number}"
        if one.requalify_by is None:
            words = "It was filled, and its test date was never entered."
            yield Judgement(OPEN, about, words, "Enter the date that is stamped on it.", one.filled_on)
        elif one.filled_on > one.requalify_by:
            words = f"It was filled on {dated(one.filled_on)}; its test ran out on {dated(one.requalify_by)}."
            way_out = "Empty it and have it tested, or enter the test if it was done before."
            yield Judgement(BREACH, about, words, way_out, one.filled_on)
        else:
            words = f"It was last filled on {dated(one.filled_on)}, within its test date."
            yield Judgement(MET, about, words, day=one.filled_on)


def filled_once(facts: Workshop, why: str) -> Iterator[Judgement]:
    """Judge single-trip cylinders by what was filled into them after they were bought; `why` ends the sentence."""
    filled = {line.cylinder: line for line in facts.lines if line.cause in RECOVERIES}
    for one in facts.cylinders:
        if one.kind != "single-trip":
            continue
        about = f"cylinder:{one.number}"
        if one.filled_on is None:
            yield Judgement(MET, about, "Nothing was filled into it since it was bought.", day=one.first_in_on)
            continue
        line = filled.get(one.number)
        what = f"{grams(line.mass_mg)} of {line.refrigerant} were" if line else "Gas was"
        words = f"{what} filled into a single-trip cylinder on {dated(one.filled_on)}; {why}."
        way_out = "Empty it here into a recovery cylinder and scrap it."
        yield Judgement(BREACH, about, words, way_out, one.filled_on, line.line if line else None)


def numbers_in(text: str) -> bool:
    """Whether a text holds a figure, such as an amount."""
    return re.search(r"\d", text) is not None
