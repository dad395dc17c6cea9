"""The usage report as a file: JSON, CSV and XLSX, each from the same frozen `Statement`.

Masses in files are whole milligrams; CO2 and CFC-11 equivalents are kilograms. What cannot be computed is null (an
empty cell) and said in words beside it. The report on paper is made in `papers.usage`.
"""

import json
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from compliance.statement import emissions
from compliance.statement.balance import COLUMNS, TO_AIR, Balance
from compliance.statement.emissions import MEASURES, Impact, Total
from compliance.statement.figures import Statement
from compliance.statement.lines import Correction
from compliance.statement.sums import vehicle_holdings
from inventory.models import Movement
from inventory.output.files import TYPES, csv_of, workbook

_KEPT = (
    "refrigerant",
    "grade",
    "opening_mg",
    *(f"{name}_mg" for name in COLUMNS),
    "closing_mg",
    *(f"{name}_mg" for name in TO_AIR),
    "unexplained_open_mg",
    "vehicles_closing_mg",
)
_WORTHS = tuple(f"{measure}_{what}_kg" for measure in MEASURES for what in ("co2e", "odp"))


def file_name(statement: Statement, extension: str) -> str:
    """Return the name a downloaded report gets, such as ``usage-2025-01-01-to-2025-12-31.pdf``."""
    return f"usage-{statement.first.isoformat()}-to-{statement.last.isoformat()}.{extension}"


def as_json(statement: Statement) -> str:
    """Return the report as JSON."""
    return json.dumps(as_data(statement), ensure_ascii=False, indent=2) + "\n"


def as_data(statement: Statement) -> dict[str, Any]:
    """Return the report as plain data, in the keys that scripts count on, with further ones beside them."""
    return {
        "book": statement.book.name,
        "from": statement.first.isoformat(),
        "to": statement.last.isoformat(),
        "basis": statement.basis,
        "odp_basis": emissions.ODP_BASIS,
        "refrigerants": [_refrigerant(statement, each) for each in statement.refrigerants],
        "totals": {
            "ozone_depleting": [_total(each) for each in statement.ozone_totals],
            "others": [_total(each) for each in statement.other_totals],
        },
        "stock": _stock(statement),
        "sent_away": [
            {"refrigerant": each.refrigerant, "purpose": each.purpose, "mass_mg": each.mass_mg, "lines": each.lines}
            for each in statement.purposes
        ],
        "lines": statement.activity.lines,
        "visits": statement.activity.visits,
        "vehicles": statement.activity.vehicles,
        "late_lines": statement.activity.late,
        "reversals": statement.activity.reversals,
        "corrections_since": [
            {
                "line": each.seq,
                "booked_on": each.booked_on.isoformat(),
                "reverses_line": each.reverses_seq,
                "for_day": each.for_day.isoformat(),
            }
            for each in statement.corrections
        ],
        "head_line": statement.head.seq,
        "head_digest": statement.head.short_digest,
        "closed": statement.is_closed,
        "sources": [_source(each) for each in statement.sources],
        "notes": list(statement.notes),
    }


def as_csv(statement: Statement) -> str:
    """Return one row for each refrigerant (grade "all") and each grade of it, with the period on every row."""
    head = statement.head
    about = (statement.first, statement.last, statement.basis, statement.book.name, head.seq, head.short_digest)
    rows: list[tuple[object, ...]] = []
    for each in statement.refrigerants:
        impact = statement.impacts[each.refrigerant]
        rows.append((*masses_of(each).values(), *_worths(impact), *about, " ".join(impact.notes)))
        rows += [
            (*masses_of(grade).values(), *[""] * len(_WORTHS), *about, "")
            for grade in statement.grades_of(each.refrigerant)
        ]
    names = (*_KEPT, *_WORTHS, "from", "to", "basis", "book", "head_line", "head_digest", "notes")
    return "".join(csv_of(names, rows))


def lines_csv(lines: Iterable[Movement], zone: str) -> Iterator[str]:
    """Yield the register of a period as CSV, line by line: one row for each movement, times in the book's zone."""
    names = (
        *("line", "part", "booked_on", "occurred_at", "recorded_at", "cause", "basis", "refrigerant", "grade"),
        *("from_kind", "from_number", "from", "to_kind", "to_number", "to", "mass_mg", "u_mg", "scale"),
        *("reversal", "person", "context"),
    )
    return csv_of(names, (_register_row(each, ZoneInfo(zone)) for each in lines))


def _register_row(each: Movement, zone: ZoneInfo) -> tuple[object, ...]:
    entry = each.entry
    return (
        *(entry.seq, each.line, each.booked_on),
        *(at.astimezone(zone).isoformat() for at in (entry.occurred_at, entry.recorded_at)),
        *(each.cause, each.basis, each.refrigerant, each.grade),
        *(each.source.kind, each.source.number, str(each.source)),
        *(each.target.kind, each.target.number, str(each.target)),
        *(int(each.mass_mg), "" if each.basis == "declared" else round(each.u_mg)),
        *(each.scale.name if each.scale else "", "yes" if each.reversal else "no"),
        *(entry.actor, entry.context),
    )


def as_xlsx(statement: Statement) -> bytes:
    """Return the report as a workbook of sheets; milligrams and kilograms are numbers."""
    return b"".join(workbook(_sheets(statement)))


FORMATS = {"json": TYPES["json"], "csv": TYPES["csv"], "xlsx": TYPES["xlsx"], "pdf": "application/pdf"}
MADE_BY: Mapping[str, Callable[[Statement], str | bytes]] = {"json": as_json, "csv": as_csv, "xlsx": as_xlsx}


def _sheets(statement: Statement) -> Iterator[tuple[str, Sequence[str], Iterable[Sequence[object]]]]:
    """Yield the sheets of the workbook: title, names of the columns, rows."""
    yield "About", ("what", "value"), _about(statement)
    yield "Refrigerants", _KEPT, (tuple(masses_of(each).values()) for each in statement.refrigerants)
    yield "Grades", _KEPT, (tuple(masses_of(each).values()) for each in statement.grades)
    yield "Causes", ("refrigerant", "grade", "column", "cause", "mass_mg", "lines"), _causes(statement)
    yield "Stands behind", _BEHIND, _behind(statement)
    worths = ((code, *_worths(each), " ".join(each.notes)) for code, each in statement.impacts.items())
    yield "CO2e and ODP", ("refrigerant", *_WORTHS, "notes"), worths
    yield "Totals", ("type", "measure", "mass_mg", "co2e_kg", "odp_kg", "without"), _totals(statement)
    sent = ((each.refrigerant, each.purpose, each.mass_mg, each.lines) for each in statement.purposes)
    yield "Sent away", ("refrigerant", "purpose", "mass_mg", "lines"), sent
    sources = (tuple(_source(each).values()) for each in statement.sources)
    yield "Sources", ("refrigerant", "quantity", "basis", "value", "source", "from_memory"), sources
    late = (
        (each.seq, each.occurred_at.isoformat(), each.recorded_at.isoformat(), each.booked_on)
        for each in statement.late
    )
    yield "Late lines", ("line", "occurred_at", "recorded_at", "booked_on"), late
    yield "Reversals", _PUT_RIGHT, map(_put_right, statement.reversals)
    yield "Put right since", _PUT_RIGHT, map(_put_right, statement.corrections)
    held = (
        (each.holder, each.scheme, each.number, each.issued_on or "", each.good_until)
        for each in statement.certificates
    )
    yield "Certificates", ("holder", "scheme", "number", "issued_on", "good_until"), held
    inside = vehicle_holdings(statement, limit=None)
    vehicles = ((each.number, each.label, each.refrigerant, each.mass_mg) for each in inside)
    yield "Vehicles", ("account", "vehicle", "refrigerant", "mass_mg"), vehicles


_PUT_RIGHT = ("line", "booked_on", "reverses_line", "for_day")


def _put_right(each: Correction) -> tuple[object, ...]:
    return each.seq, each.booked_on, each.reverses_seq, each.for_day


def masses_of(each: Balance) -> dict[str, Any]:
    """Return the masses of a balance under the names of `_KEPT`."""
    found = {"grade": each.grade or "all", **{f"{flow.name}_mg": flow.mass_mg for flow in each.all_flows}}
    return {name: found[name] if name in found else getattr(each, name) for name in _KEPT}


def _refrigerant(statement: Statement, each: Balance) -> dict[str, Any]:
    impact = statement.impacts[each.refrigerant]
    return {
        **_without(masses_of(each), "grade"),
        **dict(zip(_WORTHS, _worths(impact), strict=True)),
        "causes": {flow.name: {part.cause: part.mass_mg for part in flow.parts} for flow in each.all_flows},
        "u_mg": {flow.name: None if flow.u_mg is None else round(flow.u_mg) for flow in each.all_flows},
        "pair_mg": {flow.name: flow.pair_mg for flow in each.all_flows},
        "declared_mg": {flow.name: flow.declared_mg for flow in each.all_flows},
        "mass_balance_mg": each.mass_balance_mg,
        "balance_mg": each.unexplained.mass_mg,
        "vehicle_shortfall_mg": each.vehicle_shortfall_mg,
        **_exact(statement, each),
        "grades": [
            {**_without(masses_of(grade), "refrigerant"), **_exact(statement, grade)}
            for grade in statement.grades_of(each.refrigerant)
        ],
        "notes": list(impact.notes),
    }


def _stock(statement: Statement) -> dict[str, int | None]:
    """Return the stock of all refrigerants together, in mass, and how exact it is."""
    each = statement.refrigerants
    masses = {
        "opening_mg": sum(one.opening_mg for one in each),
        "closing_mg": sum(one.closing_mg for one in each),
        "balance_mg": sum(one.unexplained.mass_mg for one in each),
    }
    return {**masses, **(_exact(statement, None) if each else {})}


def _exact(statement: Statement, each: Balance | None) -> dict[str, int | None]:
    """Return standard uncertainties of stock and balance, and what stands on no weighing and has no part in them."""
    exact = statement.exactness_of(each)
    known = {"opening": exact.opening, "closing": exact.closing, "balance": exact.balance}
    return {
        f"{name}_{what}_mg": value
        for name, one in known.items()
        if one is not None
        for what, value in (("u", None if one.u_mg is None else round(one.u_mg)), ("unweighed", one.unweighed_mg))
    }


def _without(masses: Mapping[str, Any], left_out: str) -> dict[str, Any]:
    return {name: value for name, value in masses.items() if name != left_out}


def _worths(impact: Impact) -> tuple[float | None, ...]:
    """Return what the measures are worth, in the order of `_WORTHS`."""
    worths = [impact.worth[measure] for measure in MEASURES]
    return tuple(_kg(mass_mg) for each in worths for mass_mg in (each.co2e_mg, each.odp_mg))


def _kg(mass_mg: int | None) -> float | None:
    return None if mass_mg is None else float(Decimal(mass_mg).scaleb(-6))


def _total(each: Total) -> dict[str, Any]:
    return {
        "measure": each.measure,
        "mass_mg": each.mass_mg,
        "co2e_kg": _kg(each.co2e_mg),
        "odp_kg": _kg(each.odp_mg),
        "without_co2e": list(each.without_co2e),
        "without_odp": list(each.without_odp),
    }


def _source(each: emissions.Source) -> dict[str, Any]:
    return {
        "refrigerant": each.refrigerant,
        "quantity": each.quantity,
        "basis": each.basis,
        "value": None if each.value is None else float(each.value),
        "source": each.text,
        "from_memory": each.from_memory,
    }


def _about(statement: Statement) -> Iterator[tuple[str, object]]:
    shop = statement.workshop
    yield "book", statement.book.name
    yield "workshop", shop.name if shop else "not entered"
    yield "address", (shop.address if shop else "") or "not entered"
    yield "from", statement.first.isoformat()
    yield "to", statement.last.isoformat()
    yield "GWP basis", statement.basis
    yield "ODP basis", emissions.ODP_BASIS
    yield "closed", "yes" if statement.is_closed else "no"
    yield "lines", statement.activity.lines
    yield "visits", statement.activity.visits
    yield "vehicles", statement.activity.vehicles
    yield "late lines", statement.activity.late
    yield "reversals", statement.activity.reversals
    yield "last line of the book", statement.head.seq
    yield "its digest, 16 digits", statement.head.short_digest
    for note in statement.notes:
        yield "not computed", note
    yield "what it is", "It shows what the book shows; it certifies nothing."


def _causes(statement: Statement) -> Iterator[tuple[object, ...]]:
    for each in statement.grades:
        for flow in each.all_flows:
            for part in flow.parts:
                yield each.refrigerant, each.grade, flow.name, part.cause, part.mass_mg, part.lines


_BEHIND = ("refrigerant", "column", "mass_mg", "u_mg", "pair_mg", "declared_mg", "moved_mg", "lines")


def _behind(statement: Statement) -> Iterator[tuple[object, ...]]:
    for each in statement.refrigerants:
        for flow in each.all_flows:
            u_mg = "not measured" if flow.u_mg is None else round(flow.u_mg)
            counted = (flow.pair_mg, flow.declared_mg, flow.moved_mg, flow.lines)
            yield (each.refrigerant, flow.name, flow.mass_mg, u_mg, *counted)


def _totals(statement: Statement) -> Iterator[tuple[object, ...]]:
    for kind, totals in (("ozone-depleting", statement.ozone_totals), ("others", statement.other_totals)):
        for each in totals:
            without = ", ".join(dict.fromkeys(each.without_co2e + each.without_odp))
            yield kind, each.measure, each.mass_mg, _kg(each.co2e_mg), _kg(each.odp_mg), without
