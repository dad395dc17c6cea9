"""Who recovers and charges, and with which machine. Pure."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta

from compliance.rules.facts import Workshop
from compliance.rules.law.acts import GAS_ACTS, classes, gas_handlers, schemes, works
from compliance.rules.rule import Judgement
from compliance.rules.seen import BOOK, moves, of_cylinder, of_person

YEAR = timedelta(days=365)


def certified_person(facts: Workshop) -> Iterator[Judgement]:
    """Judge everybody who recovered or charged, by the certificates of that day."""
    for work in works(facts, lambda visit, deed: deed.kind in GAS_ACTS):
        person = facts.people.get(work.doer)
        if person is None:
            words = f"{work.words}: done by somebody who is not among the people of the workshop."
            yield work.record.open(words, "Enter the person and the certificate.")
        elif not person.certified_on(work.day):
            trainee = "; a trainee is no exception" if person.trainee else ""
            words = f"{work.words}: done by somebody with no certificate on that day{trainee}."
            way_out = "Enter the certificate if one was held; otherwise have a certified person do it."
            yield work.record.breach(words, way_out)
        elif _only_for_plant("; ".join(classes(person, work.day))) and work.visit.vehicle.vehicle_class != "off-road":
            words = f"{work.words}: done under a section 608 certificate; motor vehicles ask for section 609."
            yield work.record.open(words, "Enter the section 609 certificate if there is one, or correct the class.")
        else:
            yield work.record.met(f"{work.words}: done under {schemes(person, work.day)}.")


def _only_for_plant(names: str) -> bool:
    """Whether the names of the certificates speak of section 608 and not of 609."""
    return "608" in names and "609" not in names


def proof_of_certification(facts: Workshop) -> Iterator[Judgement]:
    """Ask for a certificate that holds today, of everybody who moved gas within a year."""
    for person, last in gas_handlers(facts):
        if last < facts.today - YEAR:
            continue
        there = of_person(person.handle)
        if person.certified_on(facts.today):
            yield there.met("A certificate that holds today is entered.")
        else:
            words = f"Moved gas on {last}; no certificate that holds today is entered."
            yield there.open(words, "Enter the certificate, and keep its proof here.")


def equipment_certified(facts: Workshop) -> Iterator[Judgement]:
    """Judge each machine by the day of its one certification to the authority."""
    way_out = "Send it if it was never sent, and enter the day on the machine's page."
    tanks = [one for one in facts.cylinders if one.kind == "machine tank" and one.state != "done with"]
    for one in tanks:
        if one.certified_on is not None:
            yield of_cylinder(one).met(f"Certified to the authority on {one.certified_on}.")
        else:
            words = "The day on which this machine was certified to the authority is not entered."
            yield of_cylinder(one).open(words, way_out)
    out = [visit for visit in facts.visits if any(True for _ in moves(visit, "recovery", "recovery-through-machine"))]
    if out and not tanks:
        words = f"Gas was recovered at {len(out)} visit{'' if len(out) == 1 else 's'}, and no machine is entered."
        way_out = "Enter the machine, with the day on which its certification was sent; or accept this with that day."
        yield replace(BOOK, part="machine").open(words, way_out)


def state_licence(facts: Workshop) -> Iterator[Judgement]:
    """Ask a workshop that handled a vehicle's gas within a year for the licence of its state, or that there is none."""
    if not any(last >= facts.today - YEAR for _, last in gas_handlers(facts)):
        return
    there, said = replace(BOOK, part="licence"), facts.state_licence
    if said.not_asked:
        yield there.met("Entered: the state asks for no licence.")
    elif not said.entered:
        yield there.open(
            "No state licence is entered; some states ask one of repair shops, others none.",
            "Enter its number and its last day among the settings, or that the state asks for none.",
        )
    elif said.until is None:
        yield there.open("Until when the state licence is good is not entered.", "Enter its last day.")
    elif said.until < facts.today:
        yield there.open(f"The state licence that is entered ended on {said.until}.", "Enter the new one.")
    else:
        yield there.met(f"The state licence that is entered is good until {said.until}.")
