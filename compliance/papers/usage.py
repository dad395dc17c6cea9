"""The usage report as a document: the statement of a period in the blocks of a paper, issued or as a draft.

``period:2025-01-01:2025-12-31`` names it; a fourth part is a basis of CO2 equivalents other than the workshop's own.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date

from compliance.papers import sheet, sidebyside
from compliance.papers.paper import USAGE, Block, Facts, Issuer, NothingToIssue, Paper, Picture, Table, Words
from compliance.papers.wording import counted, issuer_of
from compliance.statement import files
from compliance.statement.figures import Statement, read_statement
from compliance.statement.layout import IN_FILES, Layout
from compliance.statement.period import LISTED, WrongPeriod, named_days
from compliance.statement.sums import VehicleHolding, vehicle_holdings
from inventory.measure.displays import POUNDS_AND_OUNCES
from inventory.measure.own import METRIC, Units
from inventory.measure.spoken import days_in
from inventory.output import days
from shop.models import Workshop

NO_LINES = "The book has no lines up to the end of this period."
METHOD = "Balance by mass: the method of 40 CFR 98.203, equation T-1. Uncertainty: JCGM 100:2008."
TWO_TOTALS = (
    "Two totals that are never added together. The workshop’s emissions are what was lost from stock and from vehicles "
    "in the workshop’s hands, and differences that were found to be losses; what vehicles lost between two visits "
    "stands apart."
)
GIVE_OR_TAKE = (
    "“Give or take” is twice the standard uncertainty (about 19 times in 20) of what was weighed, each reading once: "
    "step and zero as squares, a scale’s span as one error. What is declared or on no weighing has none."
)
LIMIT = (
    "A book cannot show gas that never touched it: invoices and consignments are its only outside anchors, and a chain "
    "of digests proves order, not truth."
)


def usage_report(workshop: Workshop, about: str, *, today: date) -> Paper:
    """Return the usage report of a period; raises NothingToIssue where there is no such period, or nothing in it."""
    named = named_days(about)
    if named is None:
        raise NothingToIssue(f"{about} names no period.")
    first, last, basis = named
    try:
        statement = read_statement(workshop.book, first, last, basis or workshop.gwp_basis)
    except WrongPeriod as error:
        raise NothingToIssue(str(error)) from error
    if not statement.refrigerants:
        raise NothingToIssue(NO_LINES)
    return usage_paper(statement, issuer_of(workshop), own_basis=workshop.gwp_basis)


def draft(statement: Statement) -> bytes:
    """Return the report as a PDF that was not issued and says so."""
    shop = statement.workshop
    issuer = replace(issuer_of(shop), phone="") if shop else Issuer(statement.book.name, "")
    paper = usage_paper(statement, issuer)
    return sheet.as_pdf(replace(paper, size=shop.paper) if shop else paper, None, "")


def as_file(statement: Statement, form: str) -> str | bytes:
    """Return the report as a file of one of `files.FORMATS`; the PDF is a draft."""
    return draft(statement) if form == "pdf" else files.MADE_BY[form](statement)


def about_of(first: date, last: date, basis: str, own_basis: str) -> str:
    """Return how a report is named: its period, and its basis where that is not the workshop's own."""
    return f"period:{first.isoformat()}:{last.isoformat()}" + (f":{basis}" if basis != own_basis else "")


def usage_paper(statement: Statement, issuer: Issuer, *, own_basis: str | None = None) -> Paper:
    """Return the paper of a statement; masses in kg, or in lb or lb and oz where the workshop weighs so."""
    units = statement.workshop.units if statement.workshop else METRIC
    layout = Layout(statement, units.column)
    first, last = units.day_said(statement.first), units.day_said(statement.last)
    return Paper(
        kind=USAGE,
        title=f"Refrigerant usage report, {first} to {last}",
        about=about_of(statement.first, statement.last, statement.basis, own_basis or statement.basis),
        issuer=issuer,
        blocks=tuple(_blocks(layout, vehicle_holdings(statement), units)),
        bases=(
            f"GWP: {statement.basis}",
            "ODP: Montreal Protocol",
            f"masses in {layout.words}, of cylinders and rigs",
            f"the book as of line {statement.head.seq}, digest {statement.head.short_digest or 'none yet'}",
        ),
        sources=(*sidebyside.sources(statement.sources), METHOD),
        cautions=(LIMIT,),
        figures=files.as_data(statement),
    )


def _blocks(layout: Layout, vehicles: Sequence[VehicleHolding], units: Units) -> Iterator[Block]:
    statement = layout.statement
    yield _period_facts(statement, units)
    if not statement.refrigerants:
        yield Words("", (NO_LINES,), strong=True)
        return
    yield from sidebyside.balances(layout, "The period")
    yield from _pictures(layout)
    yield Words("Climate and ozone layer", (TWO_TOTALS,))
    if statement.notes:
        yield Words("", statement.notes, strong=True)
    yield from sidebyside.totals(layout)
    if statement.purposes:
        purposes = layout.purposes()
        yield sidebyside.as_table(purposes, purposes.rows)
    if (grades := sidebyside.grades(layout)) is not None:
        yield grades
    yield from sidebyside.bridges(layout)
    yield from _unexplained(layout)
    yield sidebyside.behind(layout)
    yield from _late(statement, units)
    yield from _certificates(statement, units)
    yield from _vehicles(layout, vehicles)
    yield Words("How to read it", (_how_it_adds_up(layout), GIVE_OR_TAKE))


def _period_facts(statement: Statement, units: Units) -> Facts:
    activity = statement.activity
    lines = counted(activity.lines, "line")
    closed = "closed: nothing more can count for it" if statement.is_closed else "not closed: later lines may count"
    late = f"{counted(activity.late, 'late line')}, {counted(activity.reversals, 'reversal')}"
    return Facts(
        "",
        (
            ("Days", f"{units.day_said(statement.first)} to {units.day_said(statement.last)}, both included; {closed}"),
            (
                "In these days",
                f"{lines}, {counted(activity.visits, 'visit')}, {counted(activity.vehicles, 'vehicle')}; {late}",
            ),
        ),
    )


def _pictures(layout: Layout) -> Iterator[Picture]:
    for each in layout.statement.refrigerants:
        if sidebyside.flows_many_ways(each) and (picture := layout.picture(each)) is not None:
            yield Picture(str(picture.svg), picture.sentence)


def _unexplained(layout: Layout) -> Iterator[Words]:
    said = [
        f"{each.refrigerant}. {words}"
        for each in layout.statement.refrigerants
        if (words := layout.unexplained_words(each))
    ]
    if said:
        yield Words("", tuple(said))


def _how_it_adds_up(layout: Layout) -> str:
    fine = "a tenth of an ounce" if layout.unit == POUNDS_AND_OUNCES else "three decimals"
    return (
        "What was there at the beginning and the changes, with the signs that they have here, add up to exactly what "
        "is there at the end: the sums are of whole milligrams. A plus is more in the cylinders and rigs, a minus is "
        f"less; rows in which nothing moved are left out. {IN_FILES} Masses are in {layout.words}, rounded to {fine}."
    )


def _late(statement: Statement, units: Units) -> Iterator[Block]:
    activity = statement.activity
    words = [
        f"Written more than a day after it happened, or counted on another day: {counted(activity.late, 'line')}. "
        f"Dated in the period: {counted(activity.reversals, 'reversal')}."
    ]
    if not statement.corrections:
        words[0] += " Nothing of this period was put right in a later one so far."
    if max(activity.late, activity.reversals) > LISTED:
        words.append(f"The first {LISTED} of each are listed; every line of the period stands in the files beside it.")
    yield Words("Late lines, reversals and what was put right since", tuple(words))
    if statement.late:
        rows = tuple(
            (str(one.seq), *map(units.when_said, (one.occurred_at, one.recorded_at)), units.day_said(one.booked_on))
            for one in statement.late
        )
        yield Table("Late lines", ("Line", "Happened", "Written", "Counts on"), rows)
    if statement.reversals:
        heads = ("Line", "Dated", "Reverses line", "Which counted on")
        dated = tuple(
            (str(one.seq), units.day_said(one.booked_on), str(one.reverses_seq), units.day_said(one.for_day))
            for one in statement.reversals
        )
        yield Table("Reversals dated in the period", heads, dated)
    if statement.corrections:
        since = tuple(
            (str(one.seq), units.day_said(one.booked_on), days_in(one.words, units)) for one in statement.corrections
        )
        yield Table("Put right in a later period", ("Line", "Counts on", "What it does"), since)


def _certificates(statement: Statement, units: Units) -> Iterator[Block]:
    heads = ("Holder", "Scheme", "Number", "Issued", "Good until")
    rows = tuple(
        (one.holder, one.scheme, one.number, days.day(one.issued_on, units), days_in(one.good_until, units))
        for one in statement.certificates
    )
    if rows:
        yield Table("Certificates held in the period, as far as entered", heads, rows)
    else:
        yield Words("Certificates held in the period", ("No certificate is entered for this period.",))


def _vehicles(layout: Layout, vehicles: Sequence[VehicleHolding]) -> Iterator[Block]:
    if not vehicles:
        yield Words("Vehicles at the end of the period", ("The book shows nothing inside vehicles.",))
        return
    yield sidebyside.vehicles(layout, vehicles)
    if len({one.number for one in vehicles}) >= LISTED:
        yield Words("", (f"The first {LISTED} vehicles; all of them are in the workbook.",))
