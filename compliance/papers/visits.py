"""The visit record for the owner of a vehicle: what came out, what went in, what was done, how it was proved.

It bears the plate and no name of a customer. Sentences on measurements are those of the log; nothing is reckoned anew.
"""

from datetime import date
from typing import Any

from django.utils.text import capfirst

from compliance.papers.afterwards import Climate, Whereabouts, climate_of, whereabouts
from compliance.papers.conversions import from_of
from compliance.papers.ofvisit import GIVE_OR_TAKE, OfVisit, doubt_of, earlier_lines, of_visit, people_table, u_of
from compliance.papers.ownerlink import on_record
from compliance.papers.paper import VISIT, Block, Facts, Paper, Signatures, Table, Words
from compliance.papers.recoveries import evidence_letter, verdict_of
from compliance.papers.wording import counted, entered, issuer_of, lower_first
from inventory.causes import BASES, CAUSES
from inventory.gases import catalogue
from inventory.gases.catalogue import MIXED
from inventory.gases.cautions import CAUTIONS
from inventory.models import Movement
from inventory.output.days import NOT_ENTERED
from shop.bench.evidence import what_speaks
from shop.models import Conversion, Step, Visit, Workshop
from shop.visits.asked import Asked
from shop.visits.gas import at_arrival, living
from shop.visits.kinds import BY_NAME
from shop.visits.log import open_points
from shop.visits.steps import said, si_of, text_of
from shop.visits.verdicts import proof_in

UNDER_PRESSURE = (
    "The circuit holds refrigerant under pressure. It is opened by nobody but people trained for it, with the gas "
    "recovered first."
)
OWNERSHIP = "not entered; the book has it as stock of the workshop"
NO_SEARCH = "No joint was searched: a leak smaller than the limits named here was not looked for."
NO_PROOF = "No pressure hold, vacuum hold or leak search is entered, so nothing shows that it holds its gas."


def visit_record(workshop: Workshop, about: str, *, today: date) -> Paper:
    """Return the record of a visit for the vehicle's owner; raises `NothingToIssue` where there is no such visit."""
    one = of_visit(workshop, about)
    points, climate = open_points(one.visit, one.wording.units), climate_of(one)
    gone = [whereabouts(one, leg, to_whom=False) for leg in one.out]
    gases = _gases(one)
    blocks = (
        _vehicle(one),
        Words("In short", _in_short(one, points), strong=True),
        *_flammable(gases),
        _moved(one),
        Words("Still open", (_open_said(points),), strong=True),
        Facts("What was in it when it came, and what was done", (*_was_in_it(one), *_work(one))),
        Facts("How it was proved, and with what limit", _proved(one)),
        Facts("The gas afterwards", _afterwards(gone, climate)),
        *_conversion(one),
        people_table(one),
        *on_record(workshop, one.visit.context),
        Signatures(("For the workshop",)),
    )
    moved = (*one.out, *one.into)
    lines = {seq for leg in moved for seq in leg.lines} | {int(each.entry.seq) for each in one.beside}
    return Paper(
        kind=VISIT,
        title=f"Visit record, visit {one.visit.number}",
        about=about,
        issuer=issuer_of(workshop),
        blocks=blocks,
        lines=tuple(sorted(lines | earlier_lines(one) | {seq for place in gone for seq in place.lines})),
        bases=(GIVE_OR_TAKE, f"GWP: {climate.basis}"),
        sources=_sources(one, climate),
        cautions=_cautions(gases),
        figures=_figures(one, points, climate),
    )


def _vehicle(one: OfVisit) -> Facts:
    visit, received = one.visit, one.last("received")
    data = received.data if received else {}
    ended = f" to {one.when(visit.closed_at)}" if visit.closed_at else ""
    rows = (
        ("Visit", f"{visit.number}, from {one.began}{ended}, {visit.state}"),
        ("Odometer", entered(said(data, "odometer"))),
        ("State on arrival", entered(said(data, "state"))),
    )
    return Facts("The vehicle", (*one.of_vehicle, *_customer(visit), *rows))


def _customer(visit: Visit) -> tuple[tuple[str, str], ...]:
    """Return whose vehicle it is: this paper is the customer's own; nobody is named whose data was removed."""
    customer = visit.vehicle.customer
    return (("Customer", customer.name),) if customer is not None and customer.removed_at is None else ()


def _in_short(one: OfVisit, points: tuple[Asked, ...]) -> tuple[str, ...]:
    came = f"Out: {one.gas_said(one.out)}." if one.out else "Nothing was taken out."
    went = f"In: {one.gas_said(one.into)}." if one.into else "Nothing was charged."
    ends = f"{counted(len(points), 'thing')} still open, listed below." if points else "Nothing is still open."
    handed = one.last("hand-over")
    look = f"When to look again: {said(handed.data if handed else {}, 'next_look') or NOT_ENTERED}."
    proof = proof_in(one.visit, one.told)
    return (came, went, *((proof.sentence,) if proof else ()), *_evidence(one), f"{ends} {look}")


def _afterwards(gone: list[Whereabouts], climate: Climate) -> tuple[tuple[str, str], ...]:
    rows = [("What came out", place.words) for place in gone]
    rows += [("Whose that is", OWNERSHIP)] if gone else []
    return (*rows, ("Climate", climate.words))


def _evidence(one: OfVisit) -> tuple[str, ...]:
    """Return the class of evidence of a loss before arrival, where there was one."""
    answer = verdict_of(one)
    lost = any(each.cause in ("lost-on-the-road", "vehicle-shortfall") for each in one.beside)
    settled = one.last("remainder settled")
    if not lost and (answer is None or answer.verdict == "accounted for"):
        return ()
    letter = evidence_letter(one)
    words = f"A loss before it came: {what_speaks(letter)}." if letter else ""
    return tuple(filter(None, (one.says(settled), words)))


def _gases(one: OfVisit) -> tuple[str, ...]:
    """Return the refrigerants that are in the vehicle or were handled: what was charged first."""
    codes = [leg.movement.refrigerant for leg in (*one.into, *one.out)] or [at_arrival(one.visit).refrigerant]
    return tuple(dict.fromkeys(code for code in codes if code))


def _flammable(gases: tuple[str, ...]) -> tuple[Block, ...]:
    burning = [code for code in gases if code != MIXED and catalogue.refrigerant(code).flammable]
    if not burning:
        return ()
    words = tuple(f"{code} is of safety class {catalogue.refrigerant(code).safety_class}." for code in burning)
    return (Words("FLAMMABLE", (*words, CAUTIONS["flammable"].sentence), strong=True),)


def _moved(one: OfVisit) -> Table:
    rows = [_line_row(one, leg.movement, "Out", f"to {leg.cylinder}") for leg in one.out]
    rows += [_line_row(one, leg.movement, "In", f"from {leg.cylinder}") for leg in one.into]
    rows += [_line_row(one, each, capfirst(CAUSES[each.cause].words), f"to {each.target}") for each in one.beside]
    for what, legs in (("Out in all", one.out), ("In in all", one.into)):
        if len(legs) > 1:
            rows.append(
                (what, "", "", "", one.mass(sum(leg.mass_mg for leg in legs)), one.give_or_take(u_of(legs)), "", "")
            )
    heads = ("What", "Cylinder", "Refrigerant", "Grade", "Mass", "Give or take", "By", "Line")
    return Table("Refrigerant out and in", heads, tuple(rows), numeric=(4, 5, 7))


def _line_row(one: OfVisit, gas: Movement, what: str, way: str) -> tuple[str, ...]:
    mass, doubt = one.mass(int(gas.mass_mg)), one.give_or_take(gas.u_mg)
    return (what, way, gas.refrigerant, gas.grade, mass, doubt, BASES[gas.basis], str(gas.entry.seq))


def _was_in_it(one: OfVisit) -> tuple[tuple[str, str], ...]:
    arrival = at_arrival(one.visit)
    stood = one.last("standing pressure")
    book = ", ".join(f"{one.mass(mass)} {code}" for code, mass in arrival.held_mg.items() if mass > 0)
    return (
        ("By its label", one.last_line("label read")),
        ("Ports", one.last_line("ports seen")),
        ("By the book", f"{book}, {arrival.content}" if book else "nothing that the book knows of"),
        ("Standing pressure", _measured(one, stood) if stood else NOT_ENTERED),
        ("Identifier", one.last_line("identified")),
    )


def _measured(one: OfVisit, step: Step) -> str:
    """Return what was read in a step and what it says."""
    return f"{capfirst(one.line(step))}. {one.says(step)}".strip()


def _work(one: OfVisit) -> tuple[tuple[str, str], ...]:
    rows = [("Repaired", f"{said(s.data, 'joint')}: {said(s.data, 'what')}") for s in living(one.visit, "repair")]
    rows += [("Taken out", said(s.data, "part")) for s in living(one.visit, "part out")]
    for step in living(one.visit, "part in"):
        parts = [said(step.data, name) for name in ("part", "condition")]
        parts += [f"no. {text}" for text in (said(step.data, "number"),) if text]
        parts += [f"seal {text}" for text in (said(step.data, "seal"),) if text]
        rows.append(("Fitted", ", ".join(filter(None, parts))))
    rows += [
        ("Flushed", f"{said(s.data, 'parts') or 'parts not entered'}, with {said(s.data, 'agent')}")
        for s in living(one.visit, "flush")
    ]
    if oil := one.last("oil balance"):
        rows.append(("Oil", one.line(oil)))
    rows += [("Advised", said(s.data, "advised")) for s in living(one.visit, "declined")]
    rows += [("Declined", said(s.data, "declined")) for s in living(one.visit, "declined")]
    return tuple(rows) or (("Repaired and fitted", "nothing is entered"),)


def _proved(one: OfVisit) -> tuple[tuple[str, str], ...]:
    """Return hold and search in one sentence with both limits; a large coarse limit never stands alone."""
    searches = living(one.visit, "leak search")
    held, pulled, vacuum, after = (
        one.last(kind) for kind in ("pressure hold", "pulling vacuum", "vacuum hold", "after-search")
    )
    rows = [("Search and hold" if held else "Search", one.says(step)) for step in searches]
    if searches and si_of(searches[-1].data, "leaking") and not after:
        rows.append(("Search after that", NOT_ENTERED))
    if after:
        rows.append(("With the charge in", one.says(after)))
    if held:
        said_of_it = (
            one.line(held) if searches else lower_first(_measured(one, held))
        )  # a search judges it along with itself
        rows.append(("Pressure hold", f"A coarse check {said_of_it.replace(': ', ', ', 1)}"))
    if pulled:
        rows.append(("Vacuum", one.line(pulled)))
    if vacuum:
        rows.append(("Vacuum hold", f"A coarse check, {lower_first(_measured(one, vacuum))}"))
    if not (searches or after):
        rows.append(("Search", NO_SEARCH if held or vacuum else NO_PROOF))
    if running := one.last("running test"):
        rows.append(("Running test", _measured(one, running)))
    return tuple(rows)


def _conversion(one: OfVisit) -> tuple[Block, ...]:
    """Return what the next workshop needs to know of a converted vehicle; it travels with the car."""
    step, vehicle = one.last("conversion done"), one.visit.vehicle
    if step is not None:
        high, low = (entered(said(step.data, name)) for name in ("high_fitting", "low_fitting"))
        rows = (
            ("From, to", f"{from_of(one, step) or NOT_ENTERED} to {text_of(step.data, 'to')}"),
            ("Date", one.wording.day(step.occurred_at)),
            ("Charge", one.amount(one.into) if one.into else NOT_ENTERED),
            ("Oil", entered(said(step.data, "lubricant"))),
            ("Fittings", f"high side {high}, low side {low}"),
        )
        return (Facts("Converted: keep this with the vehicle", rows),)
    before = Conversion.objects.filter(vehicle=vehicle, done_on__lte=one.day(one.visit.opened_at))
    last = before.exclude(visit=one.visit).order_by("-done_on", "-pk").first()
    if last is None:
        return ()
    earlier = (
        ("From, to", f"{last.from_refrigerant or NOT_ENTERED} to {last.to_refrigerant}"),
        ("Date", one.wording.on(last.done_on)),
        ("Charged in this visit", one.amount(one.into) if one.into else "none"),
        ("Oil", entered(said(last.details, "lubricant"))),
    )
    return (Facts("Converted earlier: keep this with the vehicle", earlier),)


def _open_said(points: tuple[Asked, ...]) -> str:
    """Return one line for each thing that is still open."""
    said_each = (f"{point.words} ({point.why})" if point.why else point.words for point in points)
    return "\n".join(map(capfirst, said_each)) or "Nothing is still open."


def _sources(one: OfVisit, climate: Climate) -> tuple[str, ...]:
    """Return the sources of what is printed, those of one kind of step in one sentence and none of them twice."""
    by_kind: dict[str, list[str]] = {}
    seen: set[str] = set()
    for step in one.visit.steps.all():
        told = one.told.get(step.pk)
        for text in told.answer.sources if told and told.answer else ():
            if text not in seen:
                seen.add(text)
                by_kind.setdefault(BY_NAME[step.kind].done, []).append(text)
    return (*climate.sources, *(f"{kind}: {'; '.join(texts)}" for kind, texts in by_kind.items()))


def _cautions(gases: tuple[str, ...]) -> tuple[str, ...]:
    """Return what is to be minded at the end of the sheet; that a gas burns is set off above."""
    found = [UNDER_PRESSURE]
    if "R-744" in gases:
        found.append(CAUTIONS["r744"].sentence)
    return tuple(found)


def _figures(one: OfVisit, points: tuple[Asked, ...], climate: Climate) -> dict[str, Any]:
    answer = verdict_of(one)
    return {
        "visit": one.visit.number,
        "names_customer": bool(_customer(one.visit)),
        "opened_on": one.day(one.visit.opened_at).isoformat(),
        "closed_on": one.day(one.visit.closed_at).isoformat() if one.visit.closed_at else None,
        "out_mg": sum(leg.mass_mg for leg in one.out),
        "out_give_or_take_mg": doubt_of(one.out),
        "in_mg": sum(leg.mass_mg for leg in one.into),
        "in_give_or_take_mg": doubt_of(one.into),
        "out": [leg.figures() for leg in one.out],
        "in": [leg.figures() for leg in one.into],
        "verdict": answer.verdict if answer else None,
        "evidence": evidence_letter(one),
        "open": len(points),
        "gwp_basis": climate.basis,
        **climate.figures,
    }
