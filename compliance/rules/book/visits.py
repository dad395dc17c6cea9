"""What is asked of visits whatever the jurisdiction: emptied, shown empty, accounted for, searched. Pure."""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta

from compliance.rules.facts import Deed, Visit, Workshop
from compliance.rules.law.acts import inside
from compliance.rules.rule import Judgement
from compliance.rules.seen import (
    HANDS_ON,
    OPENINGS,
    arrived_open,
    charged_mg,
    first,
    grams,
    leak_named,
    left_evacuated,
    moves,
    of_visit,
    on,
    photographed,
    recovered_mg,
    taken_as_empty,
    was_empty,
)
from shop.visits.steps import text_of

VENTED_LAWFULLY = ("R-744",)  # carbon dioxide may be let go
WAITING_DAYS = timedelta(days=14)  # how long a part is on order before somebody asks
ONE_FILLING = timedelta(days=14)  # what is charged again so soon, with nothing recovered, was not all charged before
TOPPED_UP_DAYS = 365  # a tight system asks for nothing within a year
CFC_FOR_CARS = "R-12"


def opened_with_gas(facts: Workshop) -> Iterator[Judgement]:
    """Report circuits opened with neither a recovery, a pressure that bounds what was inside, nor an open circuit."""
    for visit in facts.visits:
        opened = first(visit, *OPENINGS)
        if opened is None or inside(visit) in VENTED_LAWFULLY:
            continue
        yield _of_opening(visit, opened)


def _of_opening(visit: Visit, opened: Deed) -> Judgement:
    before = [deed for deed in visit.deeds if deed.at <= opened.at]
    stood = [deed for deed in before if deed.kind == "standing pressure"]
    emptied = any(deed.kind == "recovery" for deed in before)
    if emptied or arrived_open(visit) or left_evacuated(visit) or was_empty(visit, stood):
        return on(visit, opened.day).met("Nothing stood in it when it was opened.")
    if not stood and (leak_named(visit) or not charged_mg(visit)):
        why = "the leak named may have emptied it" if leak_named(visit) else "nothing says whether it was empty"
        words = f"The circuit was opened with no recovery and no pressure read; {why}."
        way_out = "Enter the standing pressure if it was read, or the photo of the leak."
        return on(visit, opened.day, opened.doer).open(words, way_out)
    why = (
        "the standing pressure was above the atmosphere"
        if stood
        else "no pressure was read, it did not arrive open and no leak is named, so nothing says that it was empty"
    )
    return on(visit, opened.day, opened.doer).breach(
        f"The circuit was opened with no recovery before: {why}.",
        "Enter the recovery or the standing pressure if it was taken, with its time; otherwise explain what happened.",
    )


def emptied_before_conversion(facts: Workshop) -> Iterator[Judgement]:
    """Report another refrigerant charged, or a conversion, with no recovery and no documented empty system."""
    for visit in facts.visits:
        turned = _conversion(visit)
        if turned is None or inside(visit) in VENTED_LAWFULLY:
            continue
        before = [deed for deed in visit.deeds if deed.at <= turned.at]
        stood = was_empty(visit, before) or left_evacuated(visit)
        if any(deed.kind == "recovery" for deed in before) or stood or arrived_open(visit):
            yield on(visit, turned.day).met("It was empty before it was converted.")
            continue
        words = "It was converted, and no recovery and no documented empty system stands before the new charge."
        way_out = "Enter the recovery, or the standing pressure that shows that it was empty; otherwise explain."
        yield on(visit, turned.day, turned.doer).breach(words, way_out)


def _conversion(visit: Visit) -> Deed | None:
    """Return the deed by which another refrigerant came in; the charge where there is one."""
    old = inside(visit)
    done = visit.of("conversion done")
    for deed, one in moves(visit, "charge"):
        if done or (old and one.refrigerant != old):
            return deed
    return done[0] if done else None


def standing_pressure(facts: Workshop) -> Iterator[Judgement]:
    """Report visits with gas moved or a circuit opened, and no standing pressure."""
    for visit in facts.visits:
        touched = first(visit, *HANDS_ON)
        if touched is None or arrived_open(visit) or left_evacuated(visit):
            continue
        if visit.of("standing pressure"):
            yield on(visit, touched.day).met("The standing pressure was read.")
        else:
            words = "No standing pressure was read, and it is the best witness of what was inside."
            way_out = "Enter it if it was read; otherwise say why not, and read it before the hoses go on next time."
            yield on(visit, touched.day, touched.doer).open(words, way_out)


def arrived_empty(facts: Workshop) -> Iterator[Judgement]:
    """Report vehicles taken as empty without a pressure or an open circuit to show it, or without its photo."""
    for visit in facts.visits:
        if not taken_as_empty(visit) or not visit.of(*HANDS_ON):
            continue
        witnesses = visit.of("received") if arrived_open(visit) else visit.of("standing pressure")
        day = visit.opened_at.date()
        if not witnesses:
            words = f"It was treated as empty and given {grams(charged_mg(visit))}, and no reading shows that it was."
            way_out = "Enter the standing pressure with its photo; without one nothing speaks for the loss."
            yield on(visit, day, part="pressure").open(words, way_out)
        elif not any(photographed(deed) for deed in witnesses):
            words = "It arrived empty by what was read or seen, and there is no photo of it."
            way_out = "Add the photo of the gauge or of the open circuit if there is one, or say that there is none."
            yield on(visit, day, part="photo").open(words, way_out)
        else:
            yield on(visit, day).met("It arrived empty, read or seen, with a photo.")


def empty_and_no_leak(facts: Workshop) -> Iterator[Judgement]:
    """Report vehicles that arrived empty and were charged though no leak was found and nothing was mended."""
    for visit in facts.visits:
        if not taken_as_empty(visit) or not charged_mg(visit):
            continue
        if leak_named(visit):
            yield on(visit, visit.opened_at.date()).met("A leak was found or something renewed.")
        else:
            yield on(visit, visit.opened_at.date()).open(
                f"It arrived empty and was given {grams(charged_mg(visit))}, and no leak was found or mended: "
                "it went somewhere.",
                "Enter the leak that was found and what was mended, or when to look again and who knows of it.",
            )


def recovery_proof(facts: Workshop) -> Iterator[Judgement]:
    """Report recoveries whose verdict is *not explained*, and *short* with no leak or settling to answer it."""
    for visit in facts.visits:
        if visit.proof not in ("short", "not explained", "accounted for"):
            continue
        legs = visit.of("recovery")
        day, person = (legs[-1].day, legs[-1].doer) if legs else (visit.opened_at.date(), "")
        answered = visit.proof == "short" and (leak_named(visit) or bool(visit.of("remainder settled")))
        if visit.proof == "accounted for" or answered:
            yield on(visit, day).met(f"The recovery is {visit.proof}.")
            continue
        gone = " It stood emptied, so that was gone before the recovery." if visit.emptied else ""
        yield on(visit, day, person, part=visit.proof).open(
            f"The recovery is {visit.proof}: {grams(visit.missing_mg)} beyond what readings, label and rest can tell."
            f"{gone}",
            "Enter the leak that was found or what was mended, or settle what is left with its evidence."
            if visit.proof == "short"
            else "Enter the leak that was found, with its photo, or explain here what became of it.",
        )


def remainder_settled(facts: Workshop) -> Iterator[Judgement]:
    """Report handed-over vehicles in which the book still had gas after a recovery, and nobody settled it."""
    for visit in facts.visits:
        held_mg = sum(mass for mass in visit.held_mg.values() if mass > 0)
        left_mg = held_mg - recovered_mg(visit)
        legs = visit.of("recovery")
        if not legs or held_mg <= 0 or not visit.handed_over:
            continue
        if left_mg <= 0 or visit.of("remainder settled"):
            yield on(visit, legs[-1].day).met("What was left is settled.")
        else:
            yield on(visit, legs[-1].day).open(
                f"The book had {grams(held_mg)} in it, {grams(recovered_mg(visit))} came out, and the {grams(left_mg)} "
                "between were not settled.",
                "Settle what is left: what the pump took, what was lost on the road, what nobody can explain.",
            )


def interrupted(facts: Workshop) -> Iterator[Judgement]:
    """Report recoveries that stopped before they were done, and interruptions that never ended."""
    for visit in facts.visits:
        legs = visit.of("recovery")
        stopped = text_of(legs[-1].data, "stopped") if legs else ""
        if stopped not in ("", "done"):
            words = f"The last leg of the recovery stopped with: {stopped}. The vehicle is part recovered, not empty."
            yield on(visit, legs[-1].day, part="recovery").open(words, "Enter the leg that finished it.")
        breaks = [deed for deed in visit.of("interrupted") if not text_of(deed.data, "to")]
        resumed = breaks and any(deed.at > breaks[-1].at for deed in visit.deeds)
        if breaks and not resumed and facts.today - breaks[-1].day > WAITING_DAYS:
            words = f"The work was interrupted on {breaks[-1].day.isoformat()}, and nothing stands after it."
            way_out = "Enter how it went on, or that the vehicle left unfinished."
            yield on(visit, breaks[-1].day, part="waiting").open(words, way_out)
        if (legs and stopped in ("", "done")) or (visit.of("interrupted") and resumed):
            yield on(visit, visit.opened_at.date()).met("What was interrupted went on.")


def topped_up(facts: Workshop) -> Iterator[Judgement]:
    """Report vehicles charged again within a year with neither a leak search nor a repair."""
    for visit in facts.visits:
        charge, before = first(visit, "charge"), visit.previous_charge_on
        if charge is None or before is None or (charge.day - before).days > TOPPED_UP_DAYS:
            continue
        if leak_named(visit) or visit.of("leak search"):
            yield on(visit, charge.day).met("A leak was looked for before it was charged again.")
        elif visit.proof == "accounted for":
            yield on(visit, charge.day).met("What should have been inside came out.")
        else:
            words = f"It was charged {(charge.day - before).days} days after the last charge; nobody looked for a leak."
            way_out = "Search for the leak and mend it, or enter what the customer declined."
            yield on(visit, charge.day, charge.doer).open(words, way_out)


def split_charges(facts: Workshop) -> Iterator[Judgement]:
    """Report a vehicle charged in several visits of one day, or of a fortnight with nothing recovered between.

    Their sum is what counts against any threshold.
    """
    vehicles: dict[int, list[Visit]] = defaultdict(list)
    for visit in facts.visits:
        if charged_mg(visit):
            vehicles[visit.vehicle.number].append(visit)
    for visits in vehicles.values():
        for together in _split(sorted(visits, key=_charged_on)):
            last, day = together[-1], _charged_on(together[-1])
            if len(together) == 1:
                yield on(last, day).met("It was charged in one visit.")
                continue
            numbers = ", ".join(str(one.number) for one in together)
            days = (day - _charged_on(together[0])).days
            when = f"within {days + 1} days, with nothing recovered between" if days else "of one day"
            yield on(last, day).open(
                f"One vehicle was charged in {len(together)} visits {when} ({numbers}): "
                f"{grams(sum(charged_mg(one) for one in together))} together.",
                "Judge the sum against any threshold, and say why it was not one visit.",
            )


def _split(visits: list[Visit]) -> list[list[Visit]]:
    """Group visits of a vehicle, by the day of their charge, that are one filling."""
    groups: list[list[Visit]] = []
    for visit in visits:
        apart = _charged_on(visit) - _charged_on(groups[-1][-1]) if groups else ONE_FILLING
        if apart < timedelta(days=1) or (apart < ONE_FILLING and not recovered_mg(visit)):
            groups[-1].append(visit)
        else:
            groups.append([visit])
    return groups


def _charged_on(visit: Visit) -> date:
    return next(moves(visit, "charge"))[0].day


def r12_charged(facts: Workshop) -> Iterator[Judgement]:
    """List every charge of R-12."""
    for visit in facts.visits:
        for deed, one in moves(visit, "charge"):
            if one.refrigerant == CFC_FOR_CARS:
                words = f"{grams(one.mass_mg)} of R-12, which depletes ozone, were charged."
                way_out = "Say on what ground, and what the law of the place says of it."
                yield replace(of_visit(visit, deed), line=one.line or None).open(words, way_out)
            else:
                yield on(visit, deed.day, part="charge").met("What was charged is not R-12.")
