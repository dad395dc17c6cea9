"""The usage report as a file: JSON, CSV and XLSX, each from the same frozen `Statement`.

Masses in files are whole milligrams; CO2 and CFC-11 equivalents are kilograms. What cannot be computed is null (an
empty cell) and said in words beside it. The report on paper is made in `papers.usage`.
"""

import csv
import io
import json
from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal
from typing import IO, Any, cast
from zoneinfo import ZoneInfo

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell

from compliance.statement import emissions
from compliance.statement.balance import COLUMNS, Balance, Flow
from compliance.statement.emissions import MEASURES, Impact, Total
from compliance.statement.figures import Statement, VehicleHolding
from compliance.statement.layout import Grid, Layout
from inventory.models import Movement
from inventory.output.files import FORMULA_STARTS

FORMATS = {
    "json": "application/json",
    "csv": "text/csv; charset=utf-8",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "pdf": "application/pdf",
}

_KEPT = (
    "refrigerant",
    "grade",
    "opening_mg",
    *(f"{name}_mg" for name in COLUMNS),
    "closing_mg",
    "vehicle_air_mg",
    "workshop_air_mg",
    "road_air_mg",
    "unexplained_open_mg",
    "vehicles_closing_mg",
)


def file_name(statement: Statement, extension: str) -> str:
    """Return the name a downloaded report gets, such as ``usage-2025-01-01-to-2025-12-31.pdf``."""
    return f"usage-{statement.first.isoformat()}-to-{statement.last.isoformat()}.{extension}"


def as_json(statement: Statement) -> str:
    """Return the report as JSON, in the keys that scripts count on, with further ones beside them."""
    content = {
        "book": statement.book,
        "from": statement.first.isoformat(),
        "to": statement.last.isoformat(),
        "basis": statement.basis,
        "odp_basis": emissions.ODP_BASIS,
        "refrigerants": [_refrigerant(statement, each) for each in statement.refrigerants],
        "totals": {
            "ozone_depleting": [_total(each) for each in statement.ozone_totals],
            "others": [_total(each) for each in statement.other_totals],
        },
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
    return json.dumps(content, ensure_ascii=False, indent=2) + "\n"


def as_csv(statement: Statement) -> str:
    """Return one row for each refrigerant (grade "all") and each grade of it, with the period on every row."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow([*_KEPT, *_worth_names(), "from", "to", "basis", "book", "head_line", "head_digest", "notes"])
    about = [
        statement.first.isoformat(),
        statement.last.isoformat(),
        statement.basis,
        _plain(statement.book),
        statement.head.seq,
        statement.head.short_digest,
    ]
    for each in statement.refrigerants:
        impact = statement.impacts[each.refrigerant]
        worths = _worths(impact)
        writer.writerow([*_masses(each).values(), *worths.values(), *about, " ".join(impact.notes)])
        for grade in statement.grades_of(each.refrigerant):
            writer.writerow([*_masses(grade).values(), *("" for _ in worths), *about, ""])
    return out.getvalue()


def lines_csv(lines: Iterable[Movement], zone: str) -> Iterator[str]:
    """Yield the register of a period as CSV, line by line: one row for each movement, times in the book's zone."""
    writer = csv.writer(cast("IO[str]", _Echo()))
    yield cast(
        str,
        writer.writerow(
            ["line", "part", "booked_on", "occurred_at", "recorded_at", "cause", "basis", "refrigerant", "grade"]
            + ["from_kind", "from_number", "from", "to_kind", "to_number", "to", "mass_mg", "u_mg", "scale"]
            + ["reversal", "person", "context"]
        ),
    )
    local = ZoneInfo(zone)
    for each in lines:
        entry = each.entry
        yield cast(
            str,
            writer.writerow(
                [entry.seq, each.line, each.booked_on.isoformat()]
                + [entry.occurred_at.astimezone(local).isoformat(), entry.recorded_at.astimezone(local).isoformat()]
                + [each.cause, each.basis, each.refrigerant, each.grade]
                + [each.source.kind, each.source.number, _plain(str(each.source))]
                + [each.target.kind, each.target.number, _plain(str(each.target))]
                + [int(each.mass_mg), "" if each.basis == "declared" else round(each.u_mg)]
                + [_plain(each.scale.name) if each.scale else "", "yes" if each.reversal else "no"]
                + [_plain(entry.actor), _plain(entry.context)]
            ),
        )


def as_xlsx(statement: Statement, vehicles: Sequence[VehicleHolding] = ()) -> bytes:
    """Return the report as a workbook of sheets; milligrams and kilograms are numbers."""
    book = Workbook(write_only=True)
    _sheet(book, "About", ("what", "value"), _about(statement))
    masses = [_masses(each) for each in statement.refrigerants]
    _sheet(book, "Refrigerants", _KEPT, (tuple(row.values()) for row in masses))
    _sheet(book, "Grades", _KEPT, (tuple(_masses(each).values()) for each in statement.grades))
    _sheet(book, "Causes", ("refrigerant", "grade", "column", "cause", "mass_mg", "lines"), _causes(statement))
    _sheet(book, "Stands behind", _BEHIND, _behind(statement))
    worths = ((code, *_worths(each).values(), " ".join(each.notes)) for code, each in statement.impacts.items())
    _sheet(book, "CO2e and ODP", ("refrigerant", *_worth_names(), "notes"), worths)
    _sheet(book, "Totals", ("type", "measure", "mass_mg", "co2e_kg", "odp_kg", "without"), _totals(statement))
    sent = ((each.refrigerant, each.purpose, each.mass_mg, each.lines) for each in statement.purposes)
    _sheet(book, "Sent away", ("refrigerant", "purpose", "mass_mg", "lines"), sent)
    sources = (tuple(_source(each).values()) for each in statement.sources)
    _sheet(book, "Sources", ("refrigerant", "quantity", "basis", "value", "source", "from_memory"), sources)
    late = (
        (each.seq, each.occurred_at.isoformat(), each.recorded_at.isoformat(), each.booked_on.isoformat())
        for each in statement.late
    )
    _sheet(book, "Late lines", ("line", "occurred_at", "recorded_at", "booked_on"), late)
    reversals = (
        (each.seq, each.booked_on.isoformat(), each.reverses_seq, each.for_day.isoformat())
        for each in statement.reversals
    )
    _sheet(book, "Reversals", ("line", "booked_on", "reverses_line", "for_day"), reversals)
    since = (
        (each.seq, each.booked_on.isoformat(), each.reverses_seq, each.for_day.isoformat())
        for each in statement.corrections
    )
    _sheet(book, "Put right since", ("line", "booked_on", "reverses_line", "for_day"), since)
    held = (
        (each.holder, each.scheme, each.number, each.issued_on.isoformat() if each.issued_on else "", each.good_until)
        for each in statement.certificates
    )
    _sheet(book, "Certificates", ("holder", "scheme", "number", "issued_on", "good_until"), held)
    inside = ((each.number, each.label, each.refrigerant, each.mass_mg) for each in vehicles)
    _sheet(book, "Vehicles", ("account", "vehicle", "refrigerant", "mass_mg"), inside)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def two_totals(layout: Layout) -> dict[str, Grid]:
    """The two totals, which are never added to one."""
    return {
        "ozone_totals": layout.totals(layout.statement.ozone_totals, "Ozone-depleting refrigerants"),
        "other_totals": layout.totals(layout.statement.other_totals, "Other refrigerants (HFC and their successors)"),
    }


def _masses(each: Balance) -> dict[str, Any]:
    return {
        "refrigerant": each.refrigerant,
        "grade": each.grade or "all",
        "opening_mg": each.opening_mg,
        **{f"{name}_mg": getattr(each, name).mass_mg for name in COLUMNS},
        "closing_mg": each.closing_mg,
        "vehicle_air_mg": each.vehicle_air.mass_mg,
        "workshop_air_mg": each.workshop_air.mass_mg,
        "road_air_mg": each.road_air.mass_mg,
        "unexplained_open_mg": each.unexplained_open_mg,
        "vehicles_closing_mg": each.vehicles_closing_mg,
    }


def _refrigerant(statement: Statement, each: Balance) -> dict[str, Any]:
    impact = statement.impacts[each.refrigerant]
    masses = _masses(each)
    del masses["grade"]
    return {
        **masses,
        **_worths(impact),
        "causes": {flow.name: {part.cause: part.mass_mg for part in flow.parts} for flow in _flows(each)},
        "u_mg": {flow.name: None if flow.u_mg is None else round(flow.u_mg) for flow in _flows(each)},
        "pair_mg": {flow.name: flow.pair_mg for flow in _flows(each)},
        "declared_mg": {flow.name: flow.declared_mg for flow in _flows(each)},
        "mass_balance_mg": each.mass_balance_mg,
        "vehicle_shortfall_mg": each.vehicle_shortfall_mg,
        "grades": [_grade(grade) for grade in statement.grades_of(each.refrigerant)],
        "notes": list(impact.notes),
    }


def _grade(each: Balance) -> dict[str, Any]:
    masses = _masses(each)
    del masses["refrigerant"]
    return masses


def _flows(each: Balance) -> tuple[Flow, ...]:
    return (*each.flows, each.vehicle_air, each.workshop_air, each.road_air)


def _worth_names() -> list[str]:
    return [f"{measure}_{what}_kg" for measure in MEASURES for what in ("co2e", "odp")]


def _worths(impact: Impact) -> dict[str, float | None]:
    found: dict[str, float | None] = {}
    for measure in MEASURES:
        found[f"{measure}_co2e_kg"] = _kg(impact.worth[measure].co2e_mg)
        found[f"{measure}_odp_kg"] = _kg(impact.worth[measure].odp_mg)
    return found


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
    yield "book", statement.book
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
        for flow in _flows(each):
            for part in flow.parts:
                yield each.refrigerant, each.grade, flow.name, part.cause, part.mass_mg, part.lines


_BEHIND = ("refrigerant", "column", "mass_mg", "u_mg", "pair_mg", "declared_mg", "moved_mg", "lines")


def _behind(statement: Statement) -> Iterator[tuple[object, ...]]:
    for each in statement.refrigerants:
        for flow in _flows(each):
            u_mg = "not measured" if flow.u_mg is None else round(flow.u_mg)
            counted = (flow.pair_mg, flow.declared_mg, flow.moved_mg, flow.lines)
            yield (each.refrigerant, flow.name, flow.mass_mg, u_mg, *counted)


def _totals(statement: Statement) -> Iterator[tuple[object, ...]]:
    for kind, totals in (("ozone-depleting", statement.ozone_totals), ("others", statement.other_totals)):
        for each in totals:
            without = ", ".join(dict.fromkeys(each.without_co2e + each.without_odp))
            yield kind, each.measure, each.mass_mg, _kg(each.co2e_mg), _kg(each.odp_mg), without


def _sheet(book: Any, title: str, heads: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    sheet = book.create_sheet(title)
    sheet.append(list(heads))
    for row in rows:
        sheet.append([_cell(sheet, value) for value in row])


def _cell(sheet: Any, value: object) -> object:
    if not isinstance(value, str):
        return value
    cell = WriteOnlyCell(sheet, value=value)
    cell.data_type = "s"  # a text that begins with "=" is a text
    return cell


def _plain(text: str) -> str:
    """Keep a text from being taken for a formula by a spreadsheet."""
    return f"'{text}" if text.startswith(FORMULA_STARTS) else text


class _Echo:
    """What the csv writer writes to: it hands the line back."""

    def write(self, value: str) -> str:
        return value
