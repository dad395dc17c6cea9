"""The usage report laid out for people: which rows, in which order, with which words; page and paper share it.

A **Grid** is a table of text; a cell carries the filter that shows its lines of the book. Masses are shown in one
unit with one count of decimals; exact milligrams stand in the files.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil
from urllib.parse import urlencode

from compliance.statement import balance, emissions
from compliance.statement.balance import Balance, Flow
from compliance.statement.emissions import Total, Worth
from compliance.statement.figures import Statement
from compliance.statement.stock import Known
from inventory.measure.displays import POUNDS_AND_OUNCES, co2e_said, column_said, columned, in_words, unit_mg
from inventory.measure.figures import NARROW, figure, mass_number
from inventory.measure.uncertainty import give_or_take, rounded_up
from inventory.output.masses import Flow as Stream
from inventory.output.masses import period_flow
from inventory.output.svg import Drawing

NOT_MEASURED = "not measured"

WORDS = {
    balance.ACQUIRED: "Acquired",
    balance.RECOVERED: "Recovered",
    balance.OTHER: "Other changes",
    balance.CHARGED: "Charged",
    balance.SENT_AWAY: "Sent away",
    balance.AIR: "To air, from stock",
    balance.UNEXPLAINED: "Unexplained, net (minus: missing)",
    balance.VEHICLE_AIR: "To air, from vehicles",
    balance.WORKSHOP_AIR: "Workshop's emissions to air",
    balance.ROAD_AIR: "Vehicles' emissions on the road",
    emissions.CLOSING: "At the end",
}
_STREAMS = {
    balance.ACQUIRED: "acquired",
    balance.RECOVERED: "recovered",
    balance.OTHER: "other changes",
    balance.CHARGED: "charged",
    balance.SENT_AWAY: "sent away",
    balance.AIR: "to air",
    balance.UNEXPLAINED: "unexplained",
}
SUM, PART = "sum", "part"
START = "At the start"
ON_ONE_LINE = ("at the start", "came in", "went out", "unexplained", "at the end")
GIVE_OR_TAKE = "Give or take"
BY_READINGS = "Unexplained that readings alone can make"
NOT_KNOWN = "not known"
ON_NO_WEIGHING = "Of it on no weighing"
IN_FILES = (
    "In the files (CSV, XLSX, JSON) the signs are the other way round for what was charged, sent away, lost to air or "
    "is unexplained: what went out is a plus there, and so is gas that is missing."
)


@dataclass(frozen=True)
class Cell:
    """A text, and the filter of the lines it was added up from (empty: no lines of its own)."""

    text: str
    query: str = ""


@dataclass(frozen=True)
class Row:
    """One row; `mark` sets it off as a SUM, or as a PART of the row above."""

    label: str
    cells: tuple[Cell, ...]
    mark: str = ""


@dataclass(frozen=True)
class Grid:
    """A table: its caption, the heads of its columns after the first, and its rows."""

    caption: str
    corner: str
    heads: tuple[str, ...]
    rows: tuple[Row, ...]

    @property
    def lines(self) -> tuple[tuple[Row, tuple[tuple[Cell, str], ...]], ...]:
        """Each row with its cells and their heads, for a narrow page that names each figure."""
        return tuple((row, tuple(zip(row.cells, self.heads, strict=True))) for row in self.rows)


@dataclass(frozen=True)
class Layout:
    """Grids of one report in one unit of mass: kg, lb, or "lb oz" for pounds with ounces."""

    statement: Statement
    unit: str = "kg"

    @property
    def words(self) -> str:
        """The unit as the head of a column says it."""
        return in_words(self.unit)

    def mass(self, mass_mg: int, *, signed: bool = False) -> str:
        """Return a mass without its unit; `signed` puts a plus before what is above zero."""
        return columned(mass_mg, self.unit, signed=signed)

    def give_or_take(self, flow: Flow) -> str:
        """Return two standard uncertainties without the unit, or why there are none."""
        if flow.u_mg is not None:
            return self.mass(round(2 * flow.u_mg))
        return NOT_MEASURED if flow.declared_mg == flow.moved_mg else "not entered"

    def overview(self) -> Grid:
        """One row for each refrigerant: what was there, came in, went out, is unexplained and is there; it adds up."""
        rows = tuple(
            Row(each.refrigerant, tuple(Cell(text) for text in on_one_line(each, self.unit)))
            for each in self.statement.refrigerants
        )
        return Grid(f"Stock of cylinders and rigs, {self.words}", "Refrigerant", ON_ONE_LINE, rows)

    def masses(self, balances: Sequence[Balance], caption: str) -> Grid:
        """The balance: opening, each column with its parts by cause, closing; one column for each balance."""
        by_grade = any(each.grade for each in balances)
        before, last = self.statement.first - timedelta(days=1), self.statement.last
        rows = [Row(START, tuple(self._stock(each, each.opening_mg, before) for each in balances), SUM)]
        if any(each.opening_entered_mg for each in balances):
            cells = tuple(Cell(self.mass(each.opening_entered_mg)) for each in balances)
            rows.append(Row("of it opening stock entered on the first day", cells, PART))
        exact = [self.statement.exactness_of(each) for each in balances]
        rows += self._exact([each.opening for each in exact])
        for name in balance.COLUMNS:
            rows += self._column(name, balances)
        if not by_grade and any(each.balance and each.balance.u_mg for each in exact):
            rows.append(Row(BY_READINGS, tuple(self._within(each.balance) for each in exact)))
        rows.append(Row("At the end", tuple(self._stock(each, each.closing_mg, last) for each in balances), SUM))
        rows += self._exact([each.closing for each in exact])
        heads = tuple(each.grade if by_grade else each.refrigerant for each in balances)
        return Grid(f"{caption}, {self.words}", "Stock of cylinders and rigs", heads, tuple(rows))

    def grades(self, refrigerant: str) -> Grid | None:
        """The balance by grade; None where there is one grade only."""
        found = self.statement.grades_of(refrigerant)
        return self.masses(found, f"{refrigerant} by grade") if len(found) > 1 else None

    def behind(self, each: Balance) -> Grid:
        """What stands behind each column: uncertainty, two weighings, somebody's word, lines."""
        rows = tuple(
            Row(
                WORDS[flow.name],
                (
                    Cell(self._beside_its_words(flow), self._flow_query(each, flow)),
                    Cell(self._behind(each, flow)),
                    Cell(_percent(flow.pair_share)),
                    Cell(_percent(flow.declared_share)),
                    Cell(figure(flow.lines, 0)),
                ),
            )
            for flow in each.all_flows
            if flow.lines
        )
        heads = (self.words, "give or take", "two weighings", "declared, not measured", "lines")
        return Grid(f"{each.refrigerant}: what stands behind the figures", "Column", heads, rows)

    def bridge(self, each: Balance) -> Grid:
        """From the balance by mass to the workshop's emissions."""
        steps = each.bridge
        shown = [step for step in steps if step[1] or step in (steps[0], steps[-1])]
        rows = tuple(
            Row(
                words[0].upper() + words[1:],
                (Cell(self.mass(mass, signed=step not in (0, len(shown) - 1))),),
                SUM if step in (0, len(shown) - 1) else "",
            )
            for step, (words, mass) in enumerate(shown)
        )
        caption = f"{each.refrigerant}: from the balance by mass to the workshop's emissions"
        return Grid(caption, "Step", (self.words,), rows)

    def worths(self, refrigerant: str) -> Grid:
        """What one refrigerant is worth in CO2 and in ozone depletion; measures without mass are left out."""
        found = self.statement.impacts[refrigerant].worth
        rows = tuple(
            Row(WORDS[measure], (Cell(self.mass(found[measure].mass_mg)), *_worth_cells(found[measure])))
            for measure in emissions.MEASURES
            if found[measure].mass_mg or measure in (balance.WORKSHOP_AIR, emissions.CLOSING)
        )
        caption = f"{refrigerant}: CO2 equivalent (basis {self.statement.basis}) and ozone-depleting mass"
        return Grid(caption, "Measure", (self.words, "kg CO2e", "kg CFC-11 equivalent"), rows)

    def totals(self, totals: Iterable[Total], words: str) -> Grid:
        """One of the two totals of the report."""
        rows = tuple(
            Row(
                WORDS[each.measure],
                (
                    Cell(self.mass(each.mass_mg)),
                    Cell(_counted(co2e_kg(each.co2e_mg), each.without_co2e)),
                    Cell(_counted(odp_kg(each.odp_mg), each.without_odp)),
                ),
            )
            for each in totals
        )
        heads = (self.words, f"kg CO2e ({self.statement.basis})", "kg CFC-11 equivalent")
        return Grid(words, "Measure", heads, rows)

    @property
    def two_totals(self) -> dict[str, Grid]:
        """The two totals, which are never added to one."""
        return {
            "ozone_totals": self.totals(self.statement.ozone_totals, "Ozone-depleting refrigerants"),
            "other_totals": self.totals(self.statement.other_totals, "Other refrigerants (HFC and their successors)"),
        }

    def picture(self, each: Balance) -> Drawing | None:
        """The flow picture of one refrigerant; None where nothing was there and nothing moved."""
        sources = [Stream("at the start", each.opening_mg)]
        ends: list[Stream] = []
        for flow in each.flows:
            inward = flow.name in balance.INWARD
            side = sources if inward == (flow.mass_mg > 0) else ends
            side.append(Stream(_STREAMS[flow.name], abs(flow.mass_mg)))
        ends.append(Stream("at the end", each.closing_mg))
        if not any(stream.mass_mg for stream in (*sources, *ends)):
            return None
        whole = sum(stream.mass_mg for stream in sources)
        sentence = (
            f"{each.refrigerant}: {self.said(whole)} were there or came in; "
            f"{self.said(each.closing_mg)} are there at the end."
        )
        moved = [[stream for stream in side if stream.mass_mg] for side in (sources, ends)]
        return period_flow(*moved, sentence=sentence, unit=self.unit)

    def purposes(self) -> Grid:
        """What was sent away, by refrigerant and purpose."""
        rows = tuple(
            Row(f"{each.refrigerant}, {each.purpose}", (Cell(self.mass(each.mass_mg)), Cell(figure(each.lines, 0))))
            for each in self.statement.purposes
        )
        return Grid(f"Sent away by purpose, {self.words}", "Refrigerant and purpose", (self.words, "lines"), rows)

    def unexplained_words(self, each: Balance) -> str:
        """How much of the unexplained is still open, with the signs of its column; empty where there was none."""
        if not (each.unexplained.lines or each.explained_mg):
            return ""
        net, since, left = (
            self.said(-mass, signed=True)
            for mass in (each.unexplained.mass_mg, each.explained_mg, each.unexplained_open_mg)
        )
        return f"{WORDS[balance.UNEXPLAINED]}: {net}, of which {since} explained since; {left} open."

    def exact_words(self, each: Balance) -> tuple[str, ...]:
        """How exact the stock of one refrigerant is, and by how much the period may miss it by its readings alone."""
        exact = self.statement.exactness_of(each)
        ends = ((each.opening_mg, exact.opening, "at the start"), (each.closing_mg, exact.closing, "at the end"))
        said = [
            f"{self.said(mass)} {when}, give or take {self._up(known)}"
            for mass, known, when in ends
            if mass and known.u_mg is not None
        ]
        stock = [f"{' and '.join(said)}."] if said else []
        rest = [
            f"{self.said(known.unweighed_mg)} of what was there {when} stand on no weighing (papers, machines’ "
            "displays, counted cans): how exact they are is not known."
            for _, known, when in ends
            if known.unweighed_mg
        ]
        return (*stock, *self._missed_words(each, exact.balance), *rest)

    def _missed_words(self, each: Balance, known: Known | None) -> Iterable[str]:
        if known is None or not known.u_mg:
            return
        yield (
            "At the start and what came in, less what went out, misses what is there at the end by "
            f"{self.said(abs(each.unexplained.mass_mg))}; its readings alone can make it miss by {self._up(known)}."
        )
        if known.unweighed_mg:
            yield (
                f"{self.said(known.unweighed_mg)} of what came in and went out stand on no weighing: how exact they "
                "are is not known."
            )

    def emitted_words(self) -> str:
        """What went to air in the workshop's hands, by CO2 equivalent; empty where nothing did."""
        both = (*self.statement.other_totals, *self.statement.ozone_totals)
        found = [one for one in both if one.measure == balance.WORKSHOP_AIR and one.mass_mg]
        said = (_counted(co2e_said(one.co2e_mg, self.unit), one.without_co2e) for one in found)
        return f"{WORDS[balance.WORKSHOP_AIR]}: {' and '.join(said)}" if found else ""

    def _behind(self, each: Balance, flow: Flow) -> str:
        """The unexplained is what the balance misses by, so its readings are those of the balance, and no others."""
        known = self.statement.exactness_of(each).balance
        if flow.name == balance.UNEXPLAINED and known is not None and known.u_mg:
            return self.mass(self._up_mg(known.u_mg))
        return self.give_or_take(flow)

    def _beside_its_words(self, flow: Flow) -> str:
        """Return the mass of a column: how much for one whose words say the way, signed for the unexplained."""
        return self.mass(-flow.mass_mg, signed=True) if flow.name == balance.UNEXPLAINED else self.mass(flow.mass_mg)

    def said(self, mass_mg: int, *, signed: bool = False) -> str:
        """Return a mass with its unit."""
        return column_said(mass_mg, self.unit, signed=signed)

    def _stock(self, each: Balance, mass_mg: int, day: date) -> Cell:
        return Cell(self.mass(mass_mg), self._query(each, (), None, day))

    def _exact(self, known: Sequence[Known]) -> Iterator[Row]:
        if any(each.u_mg for each in known):
            yield Row(GIVE_OR_TAKE, tuple(self._within(each) for each in known))
        if any(each.unweighed_mg for each in known):
            yield Row(ON_NO_WEIGHING, tuple(Cell(self.mass(each.unweighed_mg)) for each in known))

    def _within(self, known: Known | None) -> Cell:
        if known is None or known.u_mg is None:
            return Cell(NOT_KNOWN)
        return Cell(f"±{NARROW}{self.mass(self._up_mg(known.u_mg))}" if known.u_mg else "none")

    def _up(self, known: Known) -> str:
        return self.said(self._up_mg(known.u_mg or 0.0))

    def _up_mg(self, u_mg: float) -> int:
        """Twice a standard uncertainty, up to two digits and to the last place of a column."""
        tenths = self.unit == POUNDS_AND_OUNCES
        step_mg = float(unit_mg("oz") / 10 if tenths else unit_mg(self.unit) / 1000)
        return round(ceil(rounded_up(give_or_take(u_mg)) / step_mg * (1 - 1e-9)) * step_mg)

    def _column(self, name: str, balances: Sequence[Balance]) -> list[Row]:
        flows: list[Flow] = [getattr(each, name) for each in balances]
        sign = -1 if name in balance.OUTWARD else 1
        pairs = tuple(zip(balances, flows, strict=True))
        sums = (Cell(self.mass(sign * flow.mass_mg, signed=True), self._flow_query(each, flow)) for each, flow in pairs)
        rows = [Row(WORDS[name], tuple(sums), SUM)]
        for cause, words in {part.cause: part.words for flow in flows for part in flow.parts}.items():
            cells = (self._part_cell(each, flow, cause, sign) for each, flow in pairs)
            rows.append(Row(words, tuple(cells), PART))
        return rows

    def _part_cell(self, each: Balance, flow: Flow, cause: str, sign: int) -> Cell:
        found = [part for part in flow.parts if part.cause == cause]
        if not found:
            return Cell("none")
        return Cell(self.mass(sign * found[0].mass_mg, signed=True), self._in_period(each, (cause,)))

    def _flow_query(self, each: Balance, flow: Flow) -> str:
        return self._in_period(each, tuple(part.cause for part in flow.parts)) if flow.lines else ""

    def _in_period(self, each: Balance, causes: tuple[str, ...]) -> str:
        return self._query(each, causes, self.statement.first, self.statement.last)

    def _query(self, each: Balance, causes: tuple[str, ...], first: date | None, last: date) -> str:
        asked = [("cause", cause) for cause in causes] + [("refrigerant", each.refrigerant)]
        asked += [("grade", each.grade)] if each.grade else []
        asked += [("from", first.isoformat())] if first else []
        return urlencode([*asked, ("to", last.isoformat())])


def on_one_line(each: Balance, unit: str) -> tuple[str, ...]:
    """Return the masses of a balance under the heads of `ON_ONE_LINE`, without the unit."""
    inward = sum(flow.mass_mg for flow in each.flows if flow.name in balance.INWARD)
    outward = sum(flow.mass_mg for flow in (each.charged, each.sent_away, each.air))
    moved = (columned(mass, unit, signed=True) for mass in (inward, -outward, -each.unexplained.mass_mg))
    return (columned(each.opening_mg, unit), *moved, columned(each.closing_mg, unit))


def co2e_kg(co2e_mg: int) -> str:
    """Return milligrams of CO2 as kilograms to one decimal."""
    return figure(mass_number(co2e_mg, "kg", 1), 1)


def odp_kg(odp_mg: int) -> str:
    """Return milligrams of CFC-11 as kilograms to three decimals."""
    return figure(mass_number(odp_mg, "kg", 3), 3)


def _worth_cells(worth: Worth) -> tuple[Cell, Cell]:
    return (
        Cell("no figure" if worth.co2e_mg is None else co2e_kg(worth.co2e_mg)),
        Cell("no figure" if worth.odp_mg is None else odp_kg(worth.odp_mg)),
    )


def _counted(text: str, without: tuple[str, ...]) -> str:
    return f"{text} without {', '.join(without)}" if without else text


def _percent(share: float | None) -> str:
    return "nothing moved" if share is None else f"{figure(100 * share, 0)}{NARROW}%"
