"""Systems turned to another refrigerant. Pure."""

from collections.abc import Iterator

from compliance.rules.facts import Visit, Workshop
from compliance.rules.law.acts import denied, inside, numbers_in, retrofits
from compliance.rules.law.gases import parts_of
from compliance.rules.rule import Judgement
from compliance.rules.seen import arrived_open, grams, left_evacuated, moves, of_visit, photographed, was_empty
from inventory.gases.catalogue import MIXED

RETROFITS_OF_R12 = ("R-134a", "R-401C", "R-416A")


def old_gas_out(facts: Workshop) -> Iterator[Judgement]:
    """Judge retrofits that were charged, by the recovery or the empty system before."""
    for one in retrofits(facts):
        if one.charged is None:
            continue
        before = [deed for deed in one.visit.deeds if deed.at <= one.charged.at]
        legs = [deed for deed in before if deed.kind == "recovery"]
        empty = was_empty(one.visit, before) or left_evacuated(one.visit)
        came = f"{one.old} was in it, {one.new} was charged"
        if not legs and not empty and not arrived_open(one.visit):
            words = f"{came}, and neither a recovery nor an empty system stands before."
            way_out = "Enter the recovery, or the standing pressure that shows it empty; otherwise explain."
            yield one.record.breach(words, way_out)
        elif legs and one.visit.proof in ("short", "not explained") and not one.visit.emptied:
            words = f"{came}; the recovery before is {grams(one.visit.missing_mg)} short of what can be told."
            yield one.record.open(words, "Say where the rest of the old gas went.")
        else:
            yield one.record.met(f"{came} after the old gas was out.")


def no_mixing(facts: Workshop) -> Iterator[Judgement]:
    """Judge visits at which a refrigerant was charged onto another, or a mixed one was charged."""
    turned = {one.visit.number for one in retrofits(facts)}
    for visit in facts.visits:
        charges = [deed for deed, _ in moves(visit, "charge")]
        if not charges:
            continue
        there = of_visit(visit, charges[-1])
        codes = _charged_together(visit)
        if len(codes) > 1 or MIXED in codes:
            words = f"Together with no recovery between: {' and '.join(codes)}."
            way_out = "Recover it into a cylinder for mixed gas and charge one refrigerant; explain if a line is wrong."
            yield there.breach(words, way_out)
        elif visit.number in turned:
            yield there.met("No refrigerant was charged onto another.")


def _charged_together(visit: Visit) -> list[str]:
    """Return the refrigerants that first came together, what the book had inside on arrival with them, or the last."""
    codes = _inside_by_the_book(visit)
    for deed in visit.deeds:
        if deed.kind == "recovery" and len(codes) < 2 and MIXED not in codes:
            codes = []
        for one in deed.moved:
            if one.cause == "charge" and one.refrigerant not in codes:
                codes.append(one.refrigerant)
    return codes


def _inside_by_the_book(visit: Visit) -> list[str]:
    code = inside(visit)
    empty = was_empty(visit, visit.deeds) or left_evacuated(visit) or arrived_open(visit)
    return [code] if visit.held_mg.get(code, 0) > 0 and not empty else []


def acceptable_substitute(facts: Workshop) -> Iterator[Judgement]:
    """Judge what R-12 systems were turned to."""
    for one in retrofits(facts):
        if one.old != "R-12":
            continue
        if one.new in RETROFITS_OF_R12:
            yield one.record.met(f"{one.new} is listed for systems that held R-12, under conditions.")
        else:
            listed = ", ".join(RETROFITS_OF_R12)
            words = f"{one.new} is not among those read as listed for systems that held R-12 ({listed})."
            yield one.record.open(words, "Look it up in the full list, and accept this with what it says.")


def unique_fittings(facts: Workshop) -> Iterator[Judgement]:
    """Judge retrofits by the fittings entered for both sides."""
    for one in retrofits(facts):
        sides = {"high": one.said("high_fitting"), "low": one.said("low_fitting")}
        kept = [side for side, text in sides.items() if denied(text)]
        missing = [side for side, text in sides.items() if not text]
        if kept:
            words = f"No fitting of its own for {one.new} on the {' and '.join(kept)} side."
            yield one.record.breach(
                words, f"Fit the fittings of {one.new}, or disable the port for good, and enter it."
            )
        elif missing:
            words = f"The fitting on the {' and '.join(missing)} side is not entered."
            yield one.record.open(words, f"Fit the fittings of {one.new} on both sides and enter them.")
        else:
            yield one.record.met(f"Fittings entered: {sides['high']} and {sides['low']}.")


def retrofit_label(facts: Workshop) -> Iterator[Judgement]:
    """Judge retrofits by what the label takes from the record, and by its photo."""
    for one in retrofits(facts):
        lubricant = one.said("lubricant")
        items = {
            "name and address of the workshop": facts.has_address,
            "charged mass": one.charged is not None,
            "type of lubricant": bool(lubricant) and not denied(lubricant),
            "amount of lubricant": numbers_in(lubricant),
            "photo of the label on the vehicle": one.done is not None and photographed(one.done),
        }
        missing = [name for name, there in items.items() if not there]
        if denied(one.said("photo")):
            words = f"It was turned from {one.old} to {one.new} and has no new label."
            yield one.record.breach(words, "Print the label, put it on, and enter its photo.")
        elif missing:
            yield one.record.open(f"Not entered for the label: {', '.join(missing)}.", "Enter what is named.")
        else:
            yield one.record.met("The label's items and its photo are entered.")


def barrier_hoses(facts: Workshop) -> Iterator[Judgement]:
    """Judge retrofits to refrigerants with R-22 in them, by the hoses entered."""
    for one in retrofits(facts):
        if "R-22" not in parts_of(one.new):
            continue
        hoses = one.said("hoses")
        if "barrier" in hoses.lower():
            yield one.record.met(f"Hoses entered: {hoses}.")
        elif denied(hoses):
            words = f"{one.new} contains R-22, and the hoses are entered as: {hoses}."
            yield one.record.breach(words, "Fit barrier hoses and enter them.")
        else:
            words = f"{one.new} contains R-22; hoses entered: {hoses or 'none'}."
            yield one.record.open(words, "Enter whether they are barrier hoses.")


def cut_out_switch(facts: Workshop) -> Iterator[Judgement]:
    """Ask about the switch that stops the compressor, where a retrofit does not name it."""
    for one in retrofits(facts):
        switch = one.said("cut_out")
        if switch and not denied(switch):
            yield one.record.met(f"Cut-out switch entered: {switch}.")
        else:
            words = f"Cut-out switch: {switch or 'not entered'}; it is asked for where the system has a relief device."
            yield one.record.open(words, "Enter the switch, or that the system has no relief device.")
