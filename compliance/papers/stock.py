"""Documents of what stands on the shelf: labels of cylinders, the log of one cylinder, the note for gas sent away."""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import Any

from django.conf import settings
from django.db.models import Max, Prefetch, Q, QuerySet, Sum

from compliance.papers.paper import (
    CONSIGNMENT,
    LABELS,
    LOG,
    Block,
    Facts,
    Label,
    NothingToIssue,
    Paper,
    Signatures,
    Table,
    Words,
)
from compliance.papers.wording import (
    NOT_ENTERED,
    Wording,
    counted,
    day_said,
    entered,
    issuer_of,
    number_in,
    wording_of,
)
from inventory import causes
from inventory.book import ledger
from inventory.gases import filling
from inventory.gases.catalogue import MIXED, refrigerant
from inventory.gases.cautions import cautions_for
from inventory.measure import uncertainty
from inventory.measure.codes import label_address
from inventory.measure.showing import show_pressure, show_temperature
from inventory.models import (
    AirCheck,
    Analysis,
    Book,
    Consignment,
    Cylinder,
    Entry,
    Movement,
    Partner,
    Photo,
    Tare,
    Weighing,
)
from inventory.shelf import listing, queries
from inventory.shelf.limits import filling_limit
from inventory.shelf.lines import marks_of
from shop.models import Step, Workshop

MOST_LABELS = 60
MOST_LINES = 500  # lines of the book that one log prints
MOST_BESIDE = 100  # air checks, and photos
FLAMMABLE, SUSPECT, NEVER_REFILL = "FLAMMABLE", "SUSPECT", "SINGLE-TRIP: NEVER REFILL"
NO_LIMIT, TAKES_NOTHING = "no filling limit known", "nothing: a single-trip container is never filled"
NOT_WEIGHED, NOT_MEASURED = "not weighed", "not measured"


# --- what is known of one cylinder ----------------------------------------------------------------------------


@dataclass(frozen=True)
class Shelved:
    """A cylinder with what the book has in it and what it may hold."""

    cylinder: Cylinder
    content: tuple[str, str, int] | None
    jurisdiction: str

    @property
    def code(self) -> str:
        """What is in it, else what it is meant for."""
        return self.content[0] if self.content else self.cylinder.refrigerant

    @property
    def grade(self) -> str:
        """The grade of what is in it, else that which it is meant for."""
        return self.content[1] if self.content else self.cylinder.grade

    @property
    def held_mg(self) -> int:
        """What the book has in it."""
        return self.content[2] if self.content else 0

    @property
    def never_refilled(self) -> bool:
        """Whether it is made for one trip."""
        return self.cylinder.kind in (Cylinder.SINGLE_TRIP, Cylinder.CANS)

    @property
    def suspect(self) -> bool:
        """Whether the shelf or the book calls it suspect."""
        return "suspect" in (self.cylinder.state, self.grade)

    @cached_property
    def limit(self) -> filling.Limit | None:
        """The limit that governs it; None for one that is never filled, and where no limit is known."""
        if self.never_refilled:
            return None
        return filling_limit(self.cylinder, self.code, self.jurisdiction)

    @property
    def limit_mg(self) -> int | None:
        """The most that it may hold."""
        return round(self.limit.max_net_g * 1000) if self.limit else None

    @property
    def most_gross_mg(self) -> int | None:
        """The most that the scale may show with it."""
        unknown = self.limit_mg is None or self.cylinder.lacks_tare
        return None if unknown else self.cylinder.tare_mg + (self.limit_mg or 0)

    @property
    def marks(self) -> tuple[str, ...]:
        """The words that are set off on a label."""
        said = (
            (refrigerant(self.code).flammable, FLAMMABLE),
            (self.suspect, SUSPECT),
            (self.never_refilled, NEVER_REFILL),
        )
        return tuple(words for is_so, words in said if is_so)

    def most_said(self, wording: Wording) -> str:
        """Return the most that the scale may show, with the rule that says so."""
        if self.never_refilled:
            return TAKES_NOTHING
        if self.limit is None or self.most_gross_mg is None:
            return NO_LIMIT
        return f"{wording.mass(self.most_gross_mg)}, {self.limit.words}"


def _shelved(workshop: Workshop, cylinders: Sequence[Cylinder]) -> list[Shelved]:
    held = queries.contents(one.account_id for one in cylinders)
    return [Shelved(one, held.get(one.account_id), workshop.jurisdiction) for one in cylinders]


def _cylinders(workshop: Workshop, numbers: Sequence[int]) -> list[Cylinder]:
    """Return cylinders by the numbers of their accounts, in the order asked for."""
    rows = Cylinder.objects.filter(account__book=workshop.book, account__number__in=numbers)
    found = {one.account.number: one for one in rows.select_related("account")}
    for number in numbers:
        if number not in found:
            raise NothingToIssue(f"This book has no cylinder {number}.")
    return [found[number] for number in numbers]


def _cautions(codes: Iterable[str]) -> tuple[str, ...]:
    """Return what is to be minded of these gases: that one burns, that one stands under high pressure."""
    places = set()
    for code in codes:
        if refrigerant(code).flammable:
            places.add("flammable")
        if code == "R-744":
            places.add("r-744")
    return tuple(one.sentence for one in cautions_for(*places))


def _gas(code: str, grade: str) -> str:
    return f"{code} {grade}"


def _u_said(wording: Wording, u_mg: float) -> str:
    return wording.give_or_take(u_mg) if u_mg else NOT_MEASURED


# --- labels ---------------------------------------------------------------------------------------------------


def cylinder_labels(workshop: Workshop, about: str, *, today: date) -> Paper:
    """Return a sheet of labels; `about` is such as ``cylinders:7,8,9``, the numbers of their accounts."""
    shelved = _shelved(workshop, _cylinders(workshop, _numbers(about)))
    wording, origin = wording_of(workshop), _origin()
    rules = sorted({one.limit.source for one in shelved if one.limit})
    return Paper(
        kind=LABELS,
        title="Cylinder labels",
        about=about,
        issuer=issuer_of(workshop),
        blocks=(
            *(_label(one, wording, label_address(origin, one.cylinder.label), today) for one in shelved),
            Words(
                "",
                (
                    "Cut along the frames and stick on, over the old label where there is one. The code opens the "
                    "cylinder’s page and asks a stranger to sign in; it shows nothing by itself.",
                    "A label says what the cylinder was for on the day of issue. After a change of its content, "
                    "its empty mass or its test date a new one is due.",
                ),
            ),
        ),
        lines=_last_lines(shelved),
        bases=("scale at most: the empty mass and the filling limit together",),
        sources=tuple(rules),
        cautions=_cautions(one.code for one in shelved),
        figures={"cylinders": [_label_figures(one) for one in shelved]},
    )


def _numbers(about: str) -> list[int]:
    """Return the numbers of a list such as ``cylinders:7,8,9``, each once, in their order."""
    _, _, text = about.partition(":")
    if not text:
        raise NothingToIssue("No cylinder was chosen. Choose at least one.")
    if not about.startswith("cylinders:"):
        raise NothingToIssue(f"{about} names no cylinders.")
    numbers = list(dict.fromkeys(number_in(f"cylinder:{one}", "cylinder") for one in text.split(",")))
    if len(numbers) > MOST_LABELS:
        raise NothingToIssue(f"{len(numbers)} labels are too many for one sheet: at most {MOST_LABELS}.")
    return numbers


def _origin() -> str:
    """Return where the pages are reached; labels bear it."""
    if settings.ADDRESS:
        return str(settings.ADDRESS)
    host = next(iter(settings.ALLOWED_HOSTS), "*")
    if host.startswith((".", "*")):
        raise NothingToIssue("The address that labels bear is not known: TAREBOOK_ADDRESS is not set on the server.")
    return f"{'https' if settings.HTTPS else 'http'}://{host}"


def _label(one: Shelved, wording: Wording, code: str, today: date) -> Label:
    cylinder = one.cylinder
    rows = (
        ("Refrigerant", f"{_gas(one.code, one.grade)}, class {refrigerant(one.code).safety_class}"),
        ("Kind", cylinder.kind),
        ("Empty mass", _tare_said(cylinder, wording)),
        ("Scale at most", one.most_said(wording)),
        ("Test date", _test_date(cylinder, today)),
    )
    return Label(f"{cylinder.serial} {cylinder.label}", _applying(cylinder, rows), code, one.marks)


def _tare_said(cylinder: Cylinder, wording: Wording) -> str:
    if cylinder.lacks_tare:
        return "not known until its first weighing"
    return f"{wording.mass(cylinder.tare_mg)}, {cylinder.tare_source}"


def _applying(cylinder: Cylinder, rows: Sequence[tuple[str, str]]) -> tuple[tuple[str, str], ...]:
    """Return the rows without those that say nothing of its kind: cans have no empty mass, a single trip no test."""
    of_scale = () if cylinder.is_weighed else ("Empty mass", "Empty mass now", "Water capacity", "Scale at most")
    never = (*of_scale, *(() if cylinder.is_filled else ("Test date",)))
    return tuple(row for row in rows if row[0] not in never)


def _test_date(cylinder: Cylinder, today: date) -> str:
    gone = ", gone by: takes nothing until it is tested" if cylinder.is_past_requalification(today) else ""
    return day_said(cylinder.requalify_by) + gone


def _label_figures(one: Shelved) -> dict[str, Any]:
    cylinder = one.cylinder
    return {
        "number": cylinder.account.number,
        "serial": cylinder.serial,
        "label": cylinder.label,
        "kind": cylinder.kind,
        "refrigerant": one.code,
        "grade": one.grade,
        "tare_mg": None if cylinder.lacks_tare else cylinder.tare_mg,
        "limit_mg": one.limit_mg,
        "most_gross_mg": one.most_gross_mg,
        "rule": one.limit.rule if one.limit else "",
        "requalify_by": cylinder.requalify_by.isoformat() if cylinder.requalify_by else None,
        "marks": list(one.marks),
    }


def _last_lines(shelved: Sequence[Shelved]) -> tuple[int, ...]:
    """Return the last line of each cylinder: what its label says follows from it."""
    last: dict[int, int] = {}
    accounts = [one.cylinder.account_id for one in shelved]
    for end in ("source", "target"):
        rows = Movement.objects.filter(**{f"{end}__in": accounts}).order_by().values_list(end)
        for account, seq in rows.annotate(last=Max("entry__seq")):
            last[account] = max(seq, last.get(account, 0))
    return tuple(sorted(set(last.values())))


# --- the log of one cylinder ----------------------------------------------------------------------------------


def cylinder_log(workshop: Workshop, about: str, *, today: date) -> Paper:
    """Return the log of the cylinder that ``cylinder:N`` names: every line of the book, the last `MOST_LINES` of many.

    The number of queries does not grow with the lines.
    """
    (cylinder,) = _cylinders(workshop, [number_in(about, "cylinder")])
    (one,) = _shelved(workshop, [cylinder])
    wording = wording_of(workshop)
    keys, count = _last_entries(cylinder)
    entries = _entries(cylinder, keys)
    rows = _log_rows(entries, one, workshop.book, wording)
    sums = _sums(cylinder)
    blocks: tuple[Block | None, ...] = (
        _about_cylinder(one, wording, today),
        _holds(one, wording, today),
        *((_tares(cylinder, wording),) if cylinder.is_weighed else ()),
        _by_cause(sums, one.held_mg, wording) if sums else None,
        _how_many(len(entries), count),
        _lines(rows, wording) if rows else None,
        _air_checks(workshop, cylinder, wording),
        _photos(cylinder, keys),
    )
    return Paper(
        kind=LOG,
        title=f"Log of cylinder {cylinder.serial}",
        about=about,
        issuer=issuer_of(workshop),
        blocks=tuple(block for block in blocks if block is not None),
        lines=tuple(entry.seq for entry in entries),
        bases=(
            "held after: as the book counts it, line by line",
            "what the readings can tell: two standard uncertainties",
        ),
        sources=(one.limit.source,) if one.limit else (),
        cautions=_cautions([one.code]),
        figures={
            "held_mg": one.held_mg,
            "refrigerant": one.code,
            "grade": one.grade,
            "tare_mg": None if cylinder.lacks_tare else cylinder.tare_mg,
            "limit_mg": one.limit_mg,
            "lines_in_book": count,
            "lines_printed": len(entries),
            "by_cause": {cause: {"in_mg": came, "out_mg": went} for cause, (came, went) in sums.items()},
            "lines": [row.figures() for row in rows],
        },
    )


def _last_entries(cylinder: Cylinder) -> tuple[list[int], int]:
    """Return the keys of the last entries that move or weigh a cylinder, and how many there are in all."""
    account = cylinder.account_id
    parts: list[QuerySet[Any, Any]] = [
        Movement.objects.filter(source=account).order_by().values("entry_id"),
        Movement.objects.filter(target=account).order_by().values("entry_id"),
        Weighing.objects.filter(account=account).order_by().values("entry_id"),
    ]
    every = parts[0].union(*parts[1:])
    return [row["entry_id"] for row in every.order_by("-entry_id")[:MOST_LINES]], every.count()


def _entries(cylinder: Cylinder, keys: Sequence[int]) -> list[Entry]:
    account = cylinder.account_id
    moved = Movement.objects.filter(Q(source=account) | Q(target=account)).order_by("line")
    read = Weighing.objects.filter(account=account).order_by("line")
    steps = Step.objects.filter(replaced_by__isnull=True).select_related("doer", "answers")
    rows = Entry.objects.filter(pk__in=keys).select_related("reversal", "reverses").order_by("seq")
    return list(
        rows.prefetch_related(
            Prefetch("movements", moved.select_related("source", "target").prefetch_related("explanations__entry")),
            Prefetch("weighings", read.select_related("scale")),
            Prefetch("steps", steps),
        )
    )


@dataclass(frozen=True)
class LogRow:
    """One movement of a cylinder as its log prints it, or one entry that weighed it and moved nothing."""

    entry: Entry
    movement: Movement | None
    gained_mg: int
    held_mg: int
    day: str
    what: str
    gross: str
    by: str

    def figures(self) -> dict[str, Any]:
        """Return the row for scripts."""
        return {
            "line": self.entry.seq,
            "on": self.day,
            "cause": self.movement.cause if self.movement else "",
            "basis": self.movement.basis if self.movement else "",
            "gained_mg": self.gained_mg,
            "held_mg": self.held_mg,
            "can_tell_mg": self.movement.can_tell_mg if self.movement else None,
            "gross_mg": [reading.gross_mg for reading in self.entry.weighings.all()],
        }


def _log_rows(entries: Sequence[Entry], one: Shelved, book: Book, wording: Wording) -> list[LogRow]:
    """Return the rows of a log, oldest first; what was held is counted back from what is held now."""
    account = one.cylinder.account_id
    names = listing.names_of(entry.actor for entry in entries)
    held_mg, rows = one.held_mg, []
    for entry in reversed(entries):
        marks = marks_of(entry, book)
        tail = "" if marks == "written" else f"; {marks}"
        gross = ", ".join(f"{wording.number(each.gross_mg)} {each.scale}" for each in entry.weighings.all())
        common = {"day": wording.day(entry.occurred_at), "gross": gross or NOT_WEIGHED, "by": _by(entry, names)}
        movements: list[Movement | None] = [*entry.movements.all()]
        for movement in movements[::-1] or [None]:
            mass_mg = int(movement.mass_mg) if movement else 0
            gained_mg = mass_mg if movement and movement.target_id == account else -mass_mg
            what = _what(movement, entry, account, wording) + tail
            rows.append(LogRow(entry, movement, gained_mg, held_mg, what=what, **common))
            held_mg -= gained_mg
    return rows[::-1]


def _by(entry: Entry, names: dict[str, str]) -> str:
    """Return who did it and who answered for it, else who wrote the line."""
    step = next(iter(entry.steps.all()), None)
    if step is None:
        return names.get(entry.actor, entry.actor)
    return f"{step.doer}, answered for by {step.answers}" if step.answers else str(step.doer)


def _what(movement: Movement | None, entry: Entry, account: int, wording: Wording) -> str:
    if movement is None:
        return "weighed, agrees with the book"
    words = causes.CAUSES[movement.cause].words
    gas = f"{_gas(movement.refrigerant, movement.grade)}; {causes.BASES[movement.basis]}"
    if movement.cause == "weighing-difference":
        return f"{words}, {_differs(movement, wording)}; {gas}"
    into = movement.target_id == account
    other = movement.source if into else movement.target
    if other.kind in (causes.OPENING, causes.PROCESS, causes.AIR, causes.UNEXPLAINED):
        return f"{words}; {gas}"
    if other.kind == causes.VEHICLE:  # a plate is nothing that this paper needs
        visit = entry.context.removeprefix("visit:")
        place = f"visit {visit}" if visit != entry.context else f"vehicle {other.number}"
        return f"{words}, {place}; {gas}"
    return f"{words}, {'from' if into else 'to'} {other}; {gas}"


def _differs(movement: Movement, wording: Wording) -> str:
    """Return a weighing difference against what its readings could tell, and the lines that explain it since."""
    mass_mg, can_tell_mg = abs(int(movement.mass_mg)), int(movement.can_tell_mg)
    if mass_mg <= can_tell_mg:
        return f"within what the readings can tell ({wording.mass(can_tell_mg)})"
    times = f"{mass_mg / can_tell_mg:.1f} times" if can_tell_mg else "beyond"
    said = f"{times} what the readings can tell ({wording.mass(can_tell_mg)})"
    explained = sorted({each.entry.seq for each in movement.explanations.all() if not each.reversal})
    if explained:
        return f"{said}, explained by line {', '.join(map(str, explained))}"
    return said


def _about_cylinder(one: Shelved, wording: Wording, today: date) -> Facts:
    cylinder = one.cylinder
    litres = f"{cylinder.water_capacity_m3 * 1000:.1f} L" if cylinder.water_capacity_m3 else NOT_ENTERED
    rows = [
        ("Number stamped on it", cylinder.serial),
        ("Label", cylinder.label),
        ("Kind", cylinder.kind),
        ("For", _gas(cylinder.refrigerant, cylinder.grade)),
        ("Water capacity", litres),
        ("Empty mass now", _tare_said(cylinder, wording)),
        ("Test date", _test_date(cylinder, today)),
        ("State", cylinder.state),
        ("Stands", entered(cylinder.place)),
    ]
    if cylinder.kind == Cylinder.TANK:
        limit = cylinder.machine_limit_mg
        rows.append(("Machine’s own limit of error", NOT_ENTERED if limit is None else wording.mass(limit)))
        rows.append(("Recorded as recycling", "yes" if cylinder.recycles else "no"))
    return Facts("The cylinder", _applying(cylinder, rows))


def _holds(one: Shelved, wording: Wording, today: date) -> Facts:
    held = f"{wording.mass(one.held_mg)} {_gas(one.code, one.grade)}" if one.content else "nothing by the book"
    rows = [("Holds", held)]
    if one.limit is not None and one.limit_mg is not None:
        room_mg = one.limit_mg - one.held_mg
        rows.append(("May hold", f"{wording.mass(one.limit_mg)} net, {one.limit.words}"))
        rows.append(("Room", wording.mass(room_mg) if room_mg >= 0 else f"none: {wording.mass(-room_mg)} too much"))
    rows.append(("Scale at most", one.most_said(wording)))
    last = ledger.last_weighing(one.cylinder.account)
    if last is None:
        rows.append(("Last weighed", "never"))
    else:
        rows.append(("Last weighed", f"{wording.when(last.entry.occurred_at)}, {wording.mass(last.gross_mg)} gross"))
    rows.append(("Marks", ", ".join(one.marks) or "none"))
    return Facts("What it holds", _applying(one.cylinder, rows))


def _tares(cylinder: Cylinder, wording: Wording) -> Table:
    rows = tuple(
        (
            wording.day(tare.since),
            wording.number(tare.tare_mg),
            wording.number(2 * tare.u_mg) if tare.u_mg else NOT_ENTERED,
            tare.source,
        )
        for tare in Tare.objects.filter(cylinder=cylinder).order_by("since", "id")
    )
    heads = ("Since", f"Empty mass, {wording.unit}", f"Give or take, {wording.unit}", "Source")
    return Table("Empty mass, each version", heads, rows, (1, 2))


def _sums(cylinder: Cylinder) -> dict[str, tuple[int, int]]:
    """Return what came in and went out by cause, in the order of the list of causes; reversals count against it."""
    account = cylinder.account_id
    rows = (
        Movement.objects.filter(Q(source=account) | Q(target=account))
        .order_by()
        .values("cause")
        .annotate(came=Sum("mass_mg", filter=Q(target=account)), went=Sum("mass_mg", filter=Q(source=account)))
    )
    found = {row["cause"]: (int(row["came"] or 0), int(row["went"] or 0)) for row in rows}
    return {cause: found[cause] for cause in causes.CAUSES if any(found.get(cause, ()))}


def _by_cause(sums: dict[str, tuple[int, int]], held_mg: int, wording: Wording) -> Table:
    came, went = (sum(each[place] for each in sums.values()) for place in (0, 1))
    rows = [
        (causes.CAUSES[cause].words, wording.number(into), wording.number(out)) for cause, (into, out) in sums.items()
    ]
    rows.append(("together", wording.number(came), wording.number(went)))
    heads = ("All lines, also those not printed", f"In, {wording.unit}", f"Out, {wording.unit}")
    return Table(f"In less out is what it holds: {wording.mass(held_mg)}", heads, tuple(rows), (1, 2))


def _how_many(printed: int, count: int) -> Words:
    if not count:
        return Words("Lines", ("No line of the book names this cylinder.",))
    if printed == count:
        return Words("Lines", (f"{counted(count, 'line')} of the book, all of them, in order.",))
    return Words(
        "Lines", (f"The last {printed:,} of {count:,} lines of the book, in order. The earlier ones stand in it.",)
    )


def _lines(rows: Sequence[LogRow], wording: Wording) -> Table:
    unit = wording.unit
    heads = (
        "Line",
        "Day",
        "What, and its basis",
        f"Gross read, {unit}",
        f"Change, {unit}",
        f"Held after, {unit}",
        "By",
    )
    return Table(
        "Every movement and weighing",
        heads,
        tuple(
            (
                str(row.entry.seq),
                row.day,
                row.what,
                row.gross,
                wording.number(row.gained_mg, signed=True),
                wording.number(row.held_mg),
                row.by,
            )
            for row in rows
        ),
        (1, 4, 5),
    )


def _air_checks(workshop: Workshop, cylinder: Cylinder, wording: Wording) -> Table | None:
    found = list(AirCheck.objects.filter(account=cylinder.account_id)[:MOST_BESIDE])[::-1]
    if not found:
        return None
    atmosphere_pa = workshop.air.pressure_pa
    rows = tuple(
        (
            wording.when(one.occurred_at),
            show_pressure(one.pressure_pa, atmosphere_pa=atmosphere_pa, unit=workshop.pressure_unit),
            show_temperature(one.temperature_k, "F" if workshop.temperature_unit == "F" else "C"),
            wording.number(one.held_mg),
            one.verdict,
            one.words,
        )
        for one in found
    )
    heads = ("When", "Pressure", "Temperature", f"Held, {wording.unit}", "Verdict", "In words")
    return Table("Checked for air, by pressure and temperature at rest", heads, rows, (3,))


def _photos(cylinder: Cylinder, keys: Sequence[int]) -> Table | None:
    found = Photo.objects.filter(Q(account=cylinder.account_id) | Q(line__in=keys)).select_related("entry", "line")
    rows = tuple(
        (
            str(one.entry.seq),
            str(one.line.seq) if one.line else "the cylinder",
            one.shows,
            _grouped(one.digest) + (", the picture itself was removed" if one.removed_at else ""),
        )
        for one in list(found.order_by("-entry__seq")[:MOST_BESIDE])[::-1]
    )
    heads = ("Sealed by line", "Belongs to line", "Shows", "SHA-256 of the picture")
    return Table("Photos", heads, rows) if rows else None


def _grouped(digest: str) -> str:
    """Return a digest in groups of sixteen, so that it breaks where it is read."""
    return " ".join(digest[at : at + 16] for at in range(0, len(digest), 16))


# --- gas sent away --------------------------------------------------------------------------------------------

SENDING = ("sent-away", "heel-returned", "passed-on", "moved-to-sister")
FORTY_CFR = (
    "Name and address of the place that recovered gas is sent to: 40 CFR 82.42(b), where United States rules apply "
    "(as restated in EPA information collection request 1617.10)."
)
UN_SOURCE = "UN number: ADR/RID 4.1.4.1 P200, by the name of the gas. Who sends it decides what it is carried as."
SIGNED = "name, day, signature"
CARRIER_FIRST = (
    "The carrier’s own rules and the local rules for carrying gas come first. This note is not the transport document "
    "that they may ask for."
)


@dataclass(frozen=True)
class Sent:
    """Gas, or an empty cylinder, that left by one line."""

    entry: Entry
    cylinder: Cylinder
    partner: Partner
    number: str
    purpose: str
    moved: Movement | None
    reading: Weighing | None
    consignment: Consignment | None

    @property
    def code(self) -> str:
        """What it is."""
        return self.moved.refrigerant if self.moved else self.cylinder.refrigerant

    @property
    def grade(self) -> str:
        """Its grade."""
        return self.moved.grade if self.moved else self.cylinder.grade

    @property
    def mass_mg(self) -> int:
        """The net mass by the book."""
        return int(self.moved.mass_mg) if self.moved else 0

    @property
    def u_mg(self) -> float:
        """The standard uncertainty of the net mass."""
        return self.moved.u_mg if self.moved else 0.0

    @property
    def address(self) -> str:
        """Where it went; a sister workshop's is its own."""
        if self.partner.address.strip() or self.partner.sister is None:
            return self.partner.address.strip()
        sister = Workshop.objects.filter(book=self.partner.sister).first()
        return sister.address.strip() if sister else ""

    @property
    def marks(self) -> tuple[str, ...]:
        """The words that are set off."""
        said = ((refrigerant(self.code).flammable, FLAMMABLE), (self.grade == "suspect", SUSPECT))
        return tuple(words for is_so, words in said if is_so)

    @property
    def un_number(self) -> str:
        """The UN number of the gas by its name; empty where the catalogue has none, and for what is suspect."""
        return "" if self.grade == "suspect" else filling.un_number(self.code)


def consignment_note(workshop: Workshop, about: str, *, today: date) -> Paper:
    """Return the note that travels with gas sent away by the line that ``line:SEQ`` names.

    Once the receiver's paper is entered it prints that too, against what the weighing can tell.
    """
    sent, wording = _sent(workshop, number_in(about, "line")), wording_of(workshop)
    accepted = _accepted(sent)
    blocks: tuple[Block | None, ...] = (
        _still_asked(workshop, sent),
        _sender(workshop),
        _receiver(sent),
        _what_is_sent(sent, wording),
        Words("Marks", tuple(_mark_said(mark) for mark in sent.marks), strong=True) if sent.marks else None,
        Words("For the carrier", (*_for_carrier(sent), CARRIER_FIRST)),
        Signatures((f"For the sender, {workshop.name}: {SIGNED}", f"Carrier: {SIGNED}")),
        *(_accepted_blocks(sent, accepted, wording) if accepted else _by_hand(sent)),
    )
    sources = (FORTY_CFR, UN_SOURCE) if sent.un_number else (FORTY_CFR,)
    return Paper(
        kind=CONSIGNMENT,
        title=f"Consignment note {sent.number}",
        about=about,
        issuer=issuer_of(workshop),
        blocks=tuple(block for block in blocks if block is not None),
        lines=(sent.entry.seq,),
        bases=("net mass: one weighing less the empty mass", "give or take: two standard uncertainties"),
        sources=sources,
        figures=_sent_figures(sent, accepted, wording),
    )


def _sent(workshop: Workshop, seq: int) -> Sent:
    rows = Entry.objects.select_related("reversal", "consignment__partner__account", "consignment__cylinder__account")
    entry = rows.filter(book=workshop.book, seq=seq).first()
    if entry is None:
        raise NothingToIssue(f"This book has no line {seq}.")
    reversal = getattr(entry, "reversal", None)
    if reversal is not None:
        raise NothingToIssue(f"Line {seq} was reversed by line {reversal.seq}: by it nothing left.")
    moved = entry.movements.standing().filter(cause__in=SENDING).select_related("source", "target").first()
    consignment: Consignment | None = getattr(entry, "consignment", None)
    if consignment is not None:
        cylinder, partner = consignment.cylinder, consignment.partner
        number, purpose = consignment.number, consignment.purpose
    elif moved is not None:
        cylinder = Cylinder.objects.select_related("account").get(account=moved.source_id)
        partner = Partner.objects.select_related("account", "sister").get(account=moved.target_id)
        number, purpose = str(seq), "sister workshop" if partner.sister_id else causes.CAUSES[moved.cause].words
    else:
        raise NothingToIssue(f"By line {seq} nothing was sent away, so it has no consignment note.")
    reading = entry.weighings.filter(account=cylinder.account_id).select_related("scale").order_by("line").last()
    return Sent(entry, cylinder, partner, number, purpose, moved, reading, consignment)


def _still_asked(workshop: Workshop, sent: Sent) -> Words | None:
    asked = [
        f"The address of {whose} is not entered."
        for whose, address in (
            (f"the receiver, {sent.partner},", sent.address),
            ("the sender", workshop.address.strip()),
        )
        if not address
    ]
    if not asked:
        return None
    return Words("Still asked", (*asked, "Enter it and issue the note anew: the new one replaces this."), strong=True)


def _sender(workshop: Workshop) -> Facts:
    rows = (
        ("Name", workshop.name),
        ("Address", entered(workshop.address)),
        ("Registration", entered(workshop.registration)),
    )
    return Facts("From", rows)


def _receiver(sent: Sent) -> Facts:
    partner = sent.partner
    rows = (
        ("Name", partner.name),
        ("Address", sent.address or NOT_ENTERED),
        ("Kind", partner.kind),
        ("Registration", entered(partner.registration)),
    )
    return Facts("To", rows)


def _what_is_sent(sent: Sent, wording: Wording) -> Facts:
    gas = refrigerant(sent.code)
    rows = [
        ("Consignment", f"{sent.number}, line {sent.entry.seq} of the book"),
        ("Sent on", wording.when(sent.entry.occurred_at)),
        ("What for", sent.purpose),
        ("Cylinder", f"{sent.cylinder.serial}, {sent.cylinder.kind}"),
        ("Refrigerant", f"{sent.code}, {gas.name}, safety class {gas.safety_class}"),
        ("Grade", sent.grade),
    ]
    if sent.code == MIXED:
        rows.append(("Identified as", _parts(sent)))
    if sent.un_number:
        rows.append(("UN number", f"UN {sent.un_number}"))
    if sent.reading is not None:
        rows.append(("Gross", f"{wording.mass(sent.reading.gross_mg)} on {sent.reading.scale}"))
        rows.append(("Empty mass", wording.mass(sent.reading.tare_mg)))
    else:
        rows.append(("Gross", NOT_WEIGHED))
    net = f"{wording.mass(sent.mass_mg)}, {_u_said(wording, sent.u_mg)}" if sent.moved else "nothing by the book"
    rows.append(("Net", net))
    return Facts("What is sent", tuple(rows))


def _parts(sent: Sent) -> str:
    """Return what an identifier last showed of a mixture before it left."""
    shown = Analysis.objects.standing().filter(account=sent.cylinder.account_id)
    last = shown.filter(occurred_at__lte=sent.entry.occurred_at).order_by("occurred_at", "id").last()
    if last is None:
        return "never identified"
    # The largest first and air last; the order of keys is not kept by every database.
    parts = sorted(last.parts.items(), key=lambda part: (part[0] == "air", -float(part[1]), part[0]))
    return ", ".join(f"{code} {float(share) * 100:.1f} %" for code, share in parts)


def _mark_said(mark: str) -> str:
    if mark == SUSPECT:
        return f"{SUSPECT}: what is in it is not known to be what its name says. For reclaim or destruction alone."
    return f"{FLAMMABLE}: the cylinder bears the mark of a gas that burns."


def _for_carrier(sent: Sent) -> Iterator[str]:
    for caution in cautions_for("consignment"):
        yield caution.sentence
    yield from _cautions([sent.code])


@dataclass(frozen=True)
class Accepted:
    """What the receiver's paper says, against what was sent."""

    consignment: Consignment
    accepted_mg: int
    oil_mg: int
    difference_mg: int  # what they count less what was sent
    can_tell_mg: int

    @property
    def together_mg(self) -> int:
        """Refrigerant, oil and waste."""
        return self.accepted_mg + self.oil_mg

    def words(self, wording: Wording) -> str:
        """Return the comparison as a sentence."""
        apart, can_tell = wording.mass(abs(self.difference_mg)), wording.mass(self.can_tell_mg)
        way = "less" if self.difference_mg < 0 else "more"
        said = f"They count {wording.mass(self.together_mg)} together: "
        if not self.difference_mg:
            return f"{said}as much as was sent. Our weighing can tell {can_tell}."
        said += f"{apart} {way} than was sent"
        if abs(self.difference_mg) <= self.can_tell_mg:
            return f"{said}, within what our weighing can tell ({can_tell})."
        times = f"{abs(self.difference_mg) / self.can_tell_mg:.1f} times" if self.can_tell_mg else "beyond"
        return f"{said}, {times} what our weighing can tell ({can_tell}). How well they weigh is not known here."


def _accepted(sent: Sent) -> Accepted | None:
    """Return what the receiver's paper says, or None where none is entered."""
    found = sent.consignment
    if found is None or found.accepted_mg is None:
        return None
    oil_mg = int(found.accepted_oil_mg or 0)
    step_g = sent.reading.step_mg / 1000 if sent.reading else 0.0
    can_tell_mg = math.floor(uncertainty.can_tell(sent.u_mg / 1000, step_g, 0.0) * 1000)
    difference_mg = int(found.accepted_mg) + oil_mg - sent.mass_mg
    return Accepted(found, int(found.accepted_mg), oil_mg, difference_mg, can_tell_mg)


def _accepted_blocks(sent: Sent, accepted: Accepted, wording: Wording) -> tuple[Block, ...]:
    paper = accepted.consignment
    oil = NOT_ENTERED if paper.accepted_oil_mg is None else wording.mass(accepted.oil_mg)
    rows = (
        ("Their paper", f"{entered(paper.paper_number)}, {day_said(paper.accepted_on)}"),
        ("Refrigerant accepted", wording.mass(accepted.accepted_mg)),
        ("Oil and waste", oil),
        ("Together", wording.mass(accepted.together_mg)),
        ("Difference to what was sent", wording.mass(accepted.difference_mg, signed=True)),
    )
    said = Words("", (accepted.words(wording),), strong=True)
    return Facts("What the receiver accepted", rows), said, Signatures((_receiver_signs(sent),))


def _receiver_signs(sent: Sent) -> str:
    return f"For the receiver, {sent.partner}: {SIGNED}"


def _by_hand(sent: Sent) -> tuple[Block, ...]:
    words = (
        "The receiver writes here what was found, and the sender gets a copy back. Entered beside the line, it is "
        "printed on a new note that replaces this one."
    )
    rows = ("Refrigerant accepted, and unit", "Oil and waste, and unit", "Number and day of the receiver’s own paper")
    return Words("To be filled in by the receiver", (words,)), Signatures((*rows, _receiver_signs(sent)))


def _sent_figures(sent: Sent, accepted: Accepted | None, wording: Wording) -> dict[str, Any]:
    return {
        "line": sent.entry.seq,
        "number": sent.number,
        "on": wording.day(sent.entry.occurred_at),
        "purpose": sent.purpose,
        "cylinder": sent.cylinder.serial,
        "refrigerant": sent.code,
        "grade": sent.grade,
        "un_number": sent.un_number,
        "gross_mg": sent.reading.gross_mg if sent.reading else None,
        "tare_mg": sent.reading.tare_mg if sent.reading else None,
        "sent_mg": sent.mass_mg,
        "u_mg": round(sent.u_mg),
        "accepted_mg": accepted.accepted_mg if accepted else None,
        "oil_mg": sent.consignment.accepted_oil_mg if sent.consignment else None,
        "difference_mg": accepted.difference_mg if accepted else None,
        "can_tell_mg": accepted.can_tell_mg if accepted else None,
    }
