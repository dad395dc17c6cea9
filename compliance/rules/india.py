"""India's rules on ozone-depleting substances, as far as the sources carry them. Pure.

They reach CFC and HCFC alone, and whether each of them reaches a vehicle workshop was not read: they ask, and never say
that something was broken.
"""

from collections.abc import Iterator

from compliance.rules.facts import Consignment, Workshop
from compliance.rules.law.acts import charged
from compliance.rules.law.gases import ozone_depleting
from compliance.rules.rule import Judgement, rules_with
from compliance.rules.seen import BOOK, grams, of_consignment, of_line

MEASURED = frozenset({"pair", "single", "machine"})


def registered(facts: Workshop) -> Iterator[Judgement]:
    """Ask for a registration where the book has ozone-depleting gas."""
    codes = {one.refrigerant for one in facts.lines} | {one.refrigerant for one in facts.cylinders if one.held_mg}
    found = sorted(code for code in codes if ozone_depleting(code))
    if not found:
        return
    if facts.registration.strip():
        yield BOOK.met(f"The book has {', '.join(found)}, and a registration is entered.")
    else:
        words = f"The book has {', '.join(found)}, and no registration is entered."
        yield BOOK.open(words, "Enter the registration, or accept this with why none is asked for.")


def purchases(facts: Workshop) -> Iterator[Judgement]:
    """Judge purchases of ozone-depleting gas by the paper behind them."""
    papers = {one.number: one.paper_number.strip() for one in facts.cylinders}
    for line in facts.lines:
        if line.cause != "purchase" or not ozone_depleting(line.refrigerant):
            continue
        bought = f"{grams(line.mass_mg)} of {line.refrigerant} was bought on {line.on}"
        if line.cylinder is not None and papers.get(line.cylinder):
            yield of_line(line).met(f"{bought}, with the supplier's paper.")
        else:
            words = f"{bought}, and no supplier's paper is entered."
            yield of_line(line).open(words, "Enter the number of the paper.")


def sales(facts: Workshop) -> Iterator[Judgement]:
    """Judge sales of ozone-depleting gas by the buyer's address."""
    for one in facts.consignments:
        if one.purpose == "sale" and ozone_depleting(one.refrigerant):
            sold = f"{grams(one.mass_mg)} of {one.refrigerant} was sold on {one.on}"
            missing = "" if one.has_address else "the buyer's address"
            yield _sent(one, sold, missing)


def sent_away(facts: Workshop) -> Iterator[Judgement]:
    """Judge ozone-depleting gas sent to reclaim or destruction by the receiver's paper."""
    for one in facts.consignments:
        if one.purpose in ("reclaim", "destruction") and ozone_depleting(one.refrigerant):
            gone = f"{grams(one.mass_mg)} of {one.refrigerant} went for {one.purpose} on {one.on}"
            missing = "" if one.paper_number.strip() else "the receiver's paper"
            yield _sent(one, gone, missing)


def _sent(one: Consignment, gone: str, missing: str) -> Judgement:
    if missing:
        return of_consignment(one).open(f"{gone}, and {missing} is not entered.", f"Enter {missing}.")
    return of_consignment(one).met(f"{gone}, with what the forms ask for.")


def used(facts: Workshop) -> Iterator[Judgement]:
    """Judge charges of ozone-depleting gas by whether they were weighed."""
    for one in charged(facts):
        if not ozone_depleting(one.refrigerant):
            continue
        bases = sorted({moved.basis for _, moved in one.legs})
        if set(bases) <= MEASURED:
            yield one.record.met(f"{one.words} was charged, and measured.")
        else:
            words = f"{one.words} was charged; its mass rests on: {', '.join(bases)}."
            yield one.record.open(words, "Weigh what is charged, so that use can be told.")


RULES = rules_with(
    {
        "in-registered": registered,
        "in-purchases-recorded": purchases,
        "in-sales-recorded": sales,
        "in-reclaimed-destroyed": sent_away,
        "in-use-measured": used,
    }
)
