"""The log of one cylinder: every line of the book that moved or weighed it, and what stands beside them."""

from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

from django.db.models import Prefetch, Q, QuerySet, Sum

from compliance.papers.cylinders import (
    NOT_WEIGHED,
    Shelved,
    applying,
    cautions_of,
    on_the_shelf,
    tare_said,
    test_date_said,
)
from compliance.papers.paper import LOG, Block, Facts, Paper, Table, Words
from compliance.papers.wording import Wording, counted, entered, issuer_of, number_in, wording_of
from inventory import causes
from inventory.book import ledger
from inventory.measure.figures import parted, show_pressure, show_temperature, times_of
from inventory.models import AirCheck, Book, Cylinder, Entry, Movement, Photo, Tare, Weighing
from inventory.output.days import NOT_ENTERED
from inventory.shelf import listing
from inventory.shelf.lines import marks_of
from shop.models import Step, Workshop

MOST_LINES = 500  # lines of the book that one log prints
MOST_BESIDE = 100  # air checks, and photos


def cylinder_log(workshop: Workshop, about: str, *, today: date) -> Paper:
    """Return the log of the cylinder that ``cylinder:N`` names: every line of the book, the last `MOST_LINES` of many.

    The number of queries does not grow with the lines.
    """
    (one,) = on_the_shelf(workshop, [number_in(about, "cylinder")])
    cylinder, wording = one.cylinder, wording_of(workshop)
    keys, count = _last_entries(cylinder)
    entries = _entries(cylinder, keys)
    rows = _log_rows(entries, one, workshop.book, wording)
    sums = _sums(cylinder)
    blocks: tuple[Block | None, ...] = (
        _about_cylinder(one, wording, today),
        _holds(one, wording),
        _tares(cylinder, wording) if cylinder.is_weighed else None,
        _by_cause(sums, one.held_mg, wording) if sums else None,
        _how_many(len(entries), count),
        _lines((cells for cells, _ in rows), wording.unit) if rows else None,
        _air_checks(workshop, cylinder, wording),
        _photos(cylinder, keys),
    )
    return Paper(
        kind=LOG,
        title=f"Log of cylinder {cylinder.serial}",
        about=about,
        issuer=issuer_of(workshop),
        blocks=tuple(filter(None, blocks)),
        lines=tuple(entry.seq for entry in entries),
        bases=(
            "held after: as the book counts it, line by line",
            "what the readings can tell: two standard uncertainties",
        ),
        sources=(one.limit.source,) if one.limit else (),
        cautions=cautions_of([one.code]),
        figures={
            "held_mg": one.held_mg,
            "refrigerant": one.code,
            "grade": one.grade,
            "tare_mg": None if cylinder.lacks_tare else cylinder.tare_mg,
            "limit_mg": one.limit_mg,
            "lines_in_book": count,
            "lines_printed": len(entries),
            "by_cause": {cause: {"in_mg": came, "out_mg": went} for cause, (came, went) in sums.items()},
            "lines": [figures for _, figures in rows],
        },
    )


def _last_entries(cylinder: Cylinder) -> tuple[list[int], int]:
    """Return the keys of the last entries that move or weigh a cylinder, and how many there are in all."""
    account = cylinder.account
    parts: list[QuerySet[Any]] = [account.given.all(), account.received.all(), account.weighings.all()]
    first, *others = (rows.order_by().values("entry_id") for rows in parts)
    every = first.union(*others)
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


Row = tuple[tuple[str, ...], dict[str, Any]]


def _log_rows(entries: Sequence[Entry], one: Shelved, book: Book, wording: Wording) -> list[Row]:
    """Return each movement, and each entry that weighed it and moved nothing, as it is printed and as figures.

    Oldest first; what was held is counted back from what is held now.
    """
    account = one.cylinder.account_id
    names = listing.names_of(entry.actor for entry in entries)
    held_mg, rows = one.held_mg, list[Row]()
    for entry in reversed(entries):
        marks, day = marks_of(entry, book), wording.day(entry.occurred_at)
        tail = "" if marks == "written" else f"; {marks}"
        gross = ", ".join(f"{wording.number(each.gross_mg)} {each.scale}" for each in entry.weighings.all())
        movements: list[Movement | None] = [*entry.movements.all()]
        for movement in movements[::-1] or [None]:
            mass_mg = int(movement.mass_mg) if movement else 0
            gained_mg = mass_mg if movement and movement.target_id == account else -mass_mg
            what = _what(movement, entry, account, wording) + tail
            shown = (wording.number(gained_mg, signed=True), wording.number(held_mg))
            cells = (str(entry.seq), day, what, gross or NOT_WEIGHED, *shown, _by(entry, names))
            figures = {"line": entry.seq, "on": day, "gained_mg": gained_mg, "held_mg": held_mg}
            rows.append((cells, figures | _figures(entry, movement)))
            held_mg -= gained_mg
    return rows[::-1]


def _figures(entry: Entry, movement: Movement | None) -> dict[str, Any]:
    return {
        "cause": movement.cause if movement else "",
        "basis": movement.basis if movement else "",
        "can_tell_mg": movement.can_tell_mg if movement else None,
        "gross_mg": [reading.gross_mg for reading in entry.weighings.all()],
    }


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
    gas = f"{movement.refrigerant} {movement.grade}; {causes.BASES[movement.basis]}"
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
    said = f"{times_of(mass_mg, can_tell_mg)} what the readings can tell ({wording.mass(can_tell_mg)})"
    explained = sorted({each.entry.seq for each in movement.explanations.all() if not each.reversal})
    return f"{said}, explained by line {', '.join(map(str, explained))}" if explained else said


def _about_cylinder(one: Shelved, wording: Wording, today: date) -> Facts:
    cylinder = one.cylinder
    water_m3 = cylinder.water_capacity_m3
    rows = [
        ("Number stamped on it", cylinder.serial),
        ("Label", cylinder.label),
        ("Kind", cylinder.kind),
        ("For", f"{cylinder.refrigerant} {cylinder.grade}"),
        ("Water capacity", wording.units.water_said(water_m3) if water_m3 else NOT_ENTERED),
        ("Empty mass now", tare_said(cylinder, wording)),
        ("Test date", test_date_said(cylinder, today, wording)),
        ("State", cylinder.state),
        ("Stands", entered(cylinder.place)),
    ]
    if cylinder.kind == Cylinder.TANK:
        rows.append(("Machine’s own limit of error", wording.mass_entered(cylinder.machine_limit_mg)))
        rows.append(("Recorded as recycling", "yes" if cylinder.recycles else "no"))
    return Facts("The cylinder", applying(cylinder, rows))


def _holds(one: Shelved, wording: Wording) -> Facts:
    held = f"{wording.mass(one.held_mg)} {one.code} {one.grade}" if one.content else "nothing by the book"
    rows = [("Holds", held)]
    if one.limit is not None and one.limit_mg is not None:
        room_mg = one.limit_mg - one.held_mg
        rows.append(("May hold", f"{wording.mass(one.limit_mg)} net, {one.limit.words}"))
        rows.append(("Room", wording.mass(room_mg) if room_mg >= 0 else f"none: {wording.mass(-room_mg)} too much"))
    rows.append(("Scale at most", one.most_said(wording)))
    last = ledger.last_weighing(one.cylinder.account)
    gross = f"{wording.when(last.entry.occurred_at)}, {wording.mass(last.gross_mg)} gross" if last else "never"
    rows.append(("Last weighed", gross))
    rows.append(("Marks", ", ".join(one.marks) or "none"))
    return Facts("What it holds", applying(one.cylinder, rows))


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
    every = f"{counted(count, 'line')} of the book, all of them, in order."
    last = f"The last {parted(printed)} of {parted(count)} lines of the book, in order. The earlier ones stand in it."
    return Words("Lines", (every if printed == count else last,))


def _lines(rows: Iterable[tuple[str, ...]], unit: str) -> Table:
    masses = (f"Gross read, {unit}", f"Change, {unit}", f"Held after, {unit}")
    heads = ("Line", "Day", "What, and its basis", *masses, "By")
    return Table("Every movement and weighing", heads, tuple(rows), (1, 4, 5))


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
