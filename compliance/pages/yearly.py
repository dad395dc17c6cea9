"""A year at a look: each part with its drawing, its table and the rows of its files, all from one statement.

Figures are the statement's own, in the units of who looks at them. In the files masses are whole milligrams, and what
went out counts as it went out, as in the statement's files.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property, partial

from django.utils.safestring import SafeString

from compliance.due.falling import CERTIFICATE, CLOSING, CONSIGNMENT, CYLINDER, INSTRUMENT, SCALE, Due
from compliance.statement import balance, losses
from compliance.statement.emissions import Total
from compliance.statement.figures import Statement
from compliance.statement.layout import co2e_kg
from compliance.statement.losses import Loss
from compliance.statement.months import Course, Month, course_of
from inventory.measure.displays import co2e_said, column_said, columned, in_words
from inventory.measure.figures import MINUS
from inventory.measure.own import MONTHS, Units
from inventory.output.course import Lane, Panel, Run, Spread, bars_by_month, days_ahead, spreads, steps_by_day
from inventory.output.svg import Drawing
from inventory.shelf.listing import names_of

NONE_NAMED = "none named"
LONGEST_NAME = 20  # beside its figures in a drawing
MOST_DRAWN = 10  # cylinders or people in one drawing; the table has all
COLUMNS = {
    balance.ACQUIRED: "bought or came in",
    balance.RECOVERED: "recovered",
    balance.CHARGED: "charged",
    balance.SENT_AWAY: "sent away",
    balance.WORKSHOP_AIR: "to air in our hands",
    balance.UNEXPLAINED: "unexplained",
}
WORTHS = {name: COLUMNS[name] for name in (balance.CHARGED, balance.SENT_AWAY, balance.WORKSHOP_AIR)}
IN_FILES = (*balance.COLUMNS, balance.VEHICLE_AIR, balance.WORKSHOP_AIR, balance.ROAD_AIR)
WITHIN, BEYOND = "within what the scales can tell", "more than the scales can tell"
SIGNS = "A minus is gas that is missing, a plus more than the book had."
NOT_BLAME = (
    "A difference stands by the name of who wrote the line: it is found by whoever weighs next, so this does not say "
    "who caused it, and who weighs most finds most. Only the owner sees this."
)

CO2E = "kg CO2e"
NO_PICTURE = SafeString("")

Row = tuple[object, ...]


@dataclass(frozen=True)
class Part:
    """One part of the page; `name` stands in the address of its files, `names` and `rows` are what they hold."""

    name: str
    title: str
    words: tuple[str, ...]
    drawing: Drawing
    names: tuple[str, ...]
    rows: Iterable[Row]


@dataclass(frozen=True)
class Look:
    """What the parts are made from: a statement, of one refrigerant or all, and the units of what is small."""

    statement: Statement
    units: Units
    refrigerant: str = ""

    @property
    def unit(self) -> str:
        """The unit of a column of masses."""
        return self.units.column

    @cached_property
    def course(self) -> Course:
        """How the period went."""
        return course_of(self.statement)

    @cached_property
    def months(self) -> tuple[Month, ...]:
        """The months, of the refrigerant that is looked at."""
        return tuple(one.of(self.refrigerant) for one in self.course.months) if self.refrigerant else self.course.months

    def month_said(self, month: Month) -> str:
        """Return a month as who reads it says days: 2025-03, or Mar 2025."""
        return month_name(month) if self.units.days == "ymd" else f"{MONTHS[month.first.month - 1]} {month.first.year}"

    def mass(self, mass_mg: int, *, signed: bool = False) -> str:
        """Return a mass with its unit."""
        return column_said(mass_mg, self.unit, signed=signed)

    def small(self, mass_mg: int) -> str:
        """Return a small mass that went missing, as pages sign it: what is missing has a minus."""
        said = self.units.small_mass_said(abs(mass_mg))
        return f"{MINUS if mass_mg > 0 else '+' if mass_mg else ''}{said}"


def month_name(month: Month) -> str:
    """Return a month as files name it: 2025-03."""
    return f"{month.first:%Y-%m}"


def by_month(look: Look) -> Part:
    """Masses by month: what came in, what went out, what was lost."""
    values = {name: [_beside(name, month.mass_mg(name)) for month in look.months] for name in COLUMNS}
    sums = {name: look.mass(sum(found), signed=name == balance.UNEXPLAINED) for name, found in values.items()}
    panels = [Panel(_title(look, COLUMNS[name], sums[name], found, look.mass), found) for name, found in values.items()]
    head = ("month", *(f"{words}, {in_words(look.unit)}" for words in COLUMNS.values()))
    table = tuple(
        (look.month_said(month), *(columned(found[place], look.unit) for found in values.values()))
        for place, month in enumerate(look.months)
    )
    sentence = f"{_upper(', '.join(f'{COLUMNS[name]} {said}' for name, said in sums.items()))}."
    rows = (
        (month_name(month), each.refrigerant, *(getattr(each, name).mass_mg for name in IN_FILES))
        for month in look.months
        for each in month.refrigerants
    )
    return Part(
        name="months",
        title="By month",
        words=(SIGNS,) if any(values[balance.UNEXPLAINED]) else (),
        drawing=_bars(panels, look.months, _plan(sentence, head, table)),
        names=("month", "refrigerant", *(f"{name}_mg" for name in IN_FILES)),
        rows=rows,
    )


def by_worth(look: Look) -> Part:
    """CO2 equivalents by month, on the basis of the statement; of what depletes the ozone layer apart, never added."""
    basis = look.statement.basis
    series = [_worth(look, name, depletes_ozone=depletes) for depletes in (False, True) for name in WORTHS]
    series = [one for one in series if any(total.mass_mg for total in one.totals)] or series[:1]
    wholes = {one.words: co2e_said(sum(one.values), look.unit) for one in series}
    said = partial(co2e_said, unit=look.unit)
    panels = [Panel(_title(look, one.words, wholes[one.words], one.values, said), one.values) for one in series]
    table = tuple(
        (look.month_said(month), *(co2e_kg(one.values[place]) for one in series))
        for place, month in enumerate(look.months)
    )
    rows = (
        (month_name(month), code, name, impact.worth[name].mass_mg, impact.worth[name].co2e_mg, basis)
        for month in look.months
        for code, impact in month.impacts.items()
        for name in WORTHS
    )
    without = sorted({code for one in series for total in one.totals for code in total.without_co2e})
    missing = f"{', '.join(without)} is not counted: no figure on basis {basis}, or not measured."
    sentence = f"On basis {basis}: {', '.join(f'{words} {whole}' for words, whole in wholes.items())}."
    head = ("month", *(f"{one.words}, {CO2E}" for one in series))
    return Part(
        name="co2",
        title="CO2 equivalent by month",
        words=(missing,) if without else (),
        drawing=_bars(panels, look.months, _plan(sentence, head, table)),
        names=("month", "refrigerant", "measure", "mass_mg", "co2e_mg", "basis"),
        rows=rows,
    )


@dataclass(frozen=True)
class _Worth:
    """What one measure is worth from month to month."""

    words: str
    totals: Sequence[Total]

    @property
    def values(self) -> list[int]:
        return [one.co2e_mg for one in self.totals]


def _worth(look: Look, name: str, *, depletes_ozone: bool) -> _Worth:
    words = f"{WORTHS[name]}{', ozone-depleting' if depletes_ozone else ''}"
    return _Worth(words, [month.total(name, depletes_ozone=depletes_ozone) for month in look.months])


def over_time(look: Look) -> Part:
    """The stock of cylinders and rigs against time, a panel for each refrigerant."""
    stocks = [one for one in look.course.stocks if look.refrigerant in ("", one.refrigerant)]
    stocks = [one for one in stocks if any(held_mg for _, held_mg in one.points)]
    runs = [
        Run(f"{one.refrigerant}: {look.mass(one.points[0][1])}, at the end {look.mass(one.points[-1][1])}", one.points)
        for one in stocks
    ]
    table = tuple(
        (f"{one.refrigerant}, {look.units.day_said(on)}", columned(held_mg, look.unit))
        for one in stocks
        for on, held_mg in one.points
    )
    said = "; ".join(run.title for run in runs)
    sentence = f"From the start to the end of the period. {said}." if runs else "Nothing was in stock."
    ends = (look.units.day_said(look.statement.first), look.units.day_said(look.statement.last))
    drawing = steps_by_day(
        runs, _plan(sentence, ("refrigerant and day", f"held, {in_words(look.unit)}"), table), ends=ends
    )
    rows = ((one.refrigerant, on.isoformat(), held_mg) for one in stocks for on, held_mg in one.points)
    return Part("stock", "Stock against time", (), drawing, ("refrigerant", "day", "held_mg"), rows)


def by_cylinder(look: Look) -> Part:
    """What each cylinder lost, with what the scales can tell."""
    found = losses.by_cylinder(look.statement)
    return _lost(look, "cylinders", "Losses by cylinder", "cylinder", found, ())


def by_person(look: Look) -> Part:
    """What stands unexplained by who wrote the lines."""
    actors = look.statement.entries.order_by().values_list("actor", flat=True).distinct()
    found = losses.by_person(look.statement, names_of(actors))
    return _lost(look, "people", "Differences by who wrote them", "who wrote the line", found, (NOT_BLAME,))


PARTS: dict[str, Callable[[Look], Part]] = {
    "months": by_month,
    "co2": by_worth,
    "stock": over_time,
    "cylinders": by_cylinder,
    "people": by_person,
}
OWNERS = frozenset({"people"})  # parts that the owner alone sees


def _lost(look: Look, name: str, title: str, what: str, found: Sequence[Loss], words: tuple[str, ...]) -> Part:
    sentence = "Nothing went to air from stock, and nothing is unexplained."
    if found:
        beyond, whole = sum(not one.is_within for one in found), look.small(sum(one.open_mg for one in found))
        sentence = f"{beyond} of {len(found)} with more open than the scales can tell; all together {whole}."
        if len(found) > MOST_DRAWN:
            sentence += f" The first {MOST_DRAWN} are drawn; the figures have all."
    drawn = [_drawn(look, one) for one in found[:MOST_DRAWN]]
    head = (
        what,
        "unexplained",
        "give or take",
        "explained since",
        "still open",
        "to air from stock",
        "lines",
        "which is",
    )
    table = tuple(_lost_row(look, one) for one in found)
    plan = _plan(sentence, head, table)
    return Part(
        name=name,
        title=title,
        words=words,
        drawing=spreads(drawn, plan, below="missing", above="more than the book") if drawn else plan,
        names=(
            "number" if name == "cylinders" else "handle", "name", "unexplained_mg", "give_or_take_mg",
            "explained_since_mg", "still_open_mg", "to_air_mg", "lines", "which_is",
        ),
        rows=(
            (
                one.key, one.name, one.unexplained.mass_mg, one.give_or_take_mg, one.explained_mg, one.open_mg,
                one.air.mass_mg, one.unexplained.lines + one.air.lines, WITHIN if one.is_within else BEYOND,
            )
            for one in found
        ),
    )  # fmt: skip


def _lost_row(look: Look, one: Loss) -> tuple[str, ...]:
    half = one.give_or_take_mg
    return (
        one.name or NONE_NAMED,
        look.small(one.unexplained.mass_mg),
        "none entered" if half is None else look.units.small_mass_said(half),
        look.units.small_mass_said(one.explained_mg),
        look.small(one.open_mg),
        look.units.small_mass_said(one.air.mass_mg),
        str(one.unexplained.lines + one.air.lines),
        WITHIN if one.is_within else BEYOND,
    )


def _drawn(look: Look, one: Loss) -> Spread:
    name, half = one.name or NONE_NAMED, one.give_or_take_mg or 0
    short = name if len(name) <= LONGEST_NAME else f"{name[: LONGEST_NAME - 1]}\N{HORIZONTAL ELLIPSIS}"
    taken = f", give or take {look.units.small_mass_said(half)}" if half else ""
    more = [f"{look.units.small_mass_said(one.explained_mg)} explained since"] if one.explained_mg else []
    more += [f"{look.units.small_mass_said(one.air.mass_mg)} to air from stock"] if one.air.mass_mg else []
    return Spread(f"{short}: {look.small(one.open_mg)}{taken}", -one.open_mg, half, ", ".join(more))


def _beside(name: str, mass_mg: int) -> int:
    """Return the mass of a column as pages sign it: the unexplained with a minus where gas is missing."""
    return -mass_mg if name == balance.UNEXPLAINED else mass_mg


def _title(look: Look, words: str, whole: str, values: Sequence[int], said: Callable[[int], str]) -> str:
    """Return what stands above a panel: its sum, and the month with the most."""
    most = max(range(len(values)), key=lambda place: abs(values[place]), default=0)
    if len(values) < 2 or not values[most]:
        return f"{_upper(words)}: {whole}"
    name = MONTHS[look.months[most].first.month - 1]
    only = sum(map(bool, values)) == 1
    return f"{_upper(words)}: {whole}, {f'all in {name}' if only else f'in {name} {said(values[most])}'}"


def _upper(words: str) -> str:
    return f"{words[:1].upper()}{words[1:]}"


def _bars(panels: Sequence[Panel], months: Sequence[Month], plan: Drawing) -> Drawing:
    return bars_by_month(panels, [MONTHS[month.first.month - 1] for month in months], plan)


def _plan(sentence: str, head: Sequence[str], rows: Sequence[tuple[str, ...]]) -> Drawing:
    """Return a drawing without its picture."""
    return Drawing(NO_PICTURE, sentence, tuple(head), tuple(rows))


def last_twelve_months(today: date) -> tuple[date, date]:
    """Return the first day of the month eleven months ago, and today."""
    months = today.year * 12 + today.month - 12
    return date(months // 12, months % 12 + 1, 1), today


LANES = {
    CYLINDER: "test dates",
    SCALE: "scales",
    INSTRUMENT: "gauges and others",
    CERTIFICATE: "certificates",
    CONSIGNMENT: "consignments",
    CLOSING: "closing",
}


def due_drawing(due: Sequence[Due], ahead: timedelta) -> Drawing:
    """Return what falls due over the days ahead, a lane for each kind; its table is the list beside it."""
    past = sum(one.is_past for one in due)
    sentence = f"{len(due) - past} due within {ahead.days} days, {past} past the day."
    kinds = [kind for kind in LANES if any(one.thing.kind == kind for one in due)]
    lanes = [Lane(LANES[kind], [one.left.days for one in due if one.thing.kind == kind]) for kind in kinds]
    return days_ahead(lanes, _plan(sentence, (), ()), ahead=ahead.days)


def rows_due(due: Iterable[Due]) -> tuple[tuple[str, ...], Iterable[Row]]:
    """Return names and rows of the files of what falls due."""
    names = ("kind", "name", "of", "last_day", "days_left")
    return names, ((one.thing.kind, one.thing.name, one.thing.of, one.on.isoformat(), one.left.days) for one in due)
