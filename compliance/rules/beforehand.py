"""What is said before an act by the rules that judge it afterwards. Pure: the rule itself judges the act as if done."""

from datetime import datetime

from compliance.rules.all import BY_ID
from compliance.rules.facts import Deed, Moved, Vehicle, Visit, Workshop
from compliance.rules.rule import MET, judge

OF_CHARGES = ("us-recycled-before-reuse", "eu-recycled-before-refill")


def of_charge(jurisdiction: str, code: str, grade: str, at: datetime) -> str:
    """Return what a rule asks of gas of this grade that is charged then; empty where none speaks of it."""
    facts = _charged(jurisdiction, code, grade, at)
    rules = (BY_ID[name] for name in OF_CHARGES)
    asked = [rule for rule in rules if jurisdiction in rule.jurisdictions]
    broken = [rule for rule in asked if any(one.state != MET for one in judge(rule, facts))]
    return " ".join(f"{rule.duty} ({rule.source}{', guidance' if rule.guide else ''})" for rule in broken)


def _charged(jurisdiction: str, code: str, grade: str, at: datetime) -> Workshop:
    """Return a workshop whose one visit has this one charge."""
    gas = Moved("charge", "pair", code, grade, 1, 0.0)
    deed = Deed("charge", at, at, "", "", {}, moved=(gas,))
    visit = Visit(1, Vehicle(1, "car", code, "", None, None), at, None, "open", (deed,))
    return Workshop(jurisdiction, at.date(), visits=(visit,))
