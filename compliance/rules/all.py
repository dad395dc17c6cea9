"""Every rule that is kept, and those that apply in a jurisdiction."""

from compliance.rules import india
from compliance.rules.book import duties as book
from compliance.rules.eu import duties as eu
from compliance.rules.rule import Rule
from compliance.rules.us import duties as us

RULES: tuple[Rule, ...] = (*us.RULES, *eu.RULES, *india.RULES, *book.RULES)
BY_ID = {rule.id: rule for rule in RULES}


def rules_of(jurisdiction: str) -> tuple[Rule, ...]:
    """Return the rules of a jurisdiction (us, eu, in, none) and those that hold everywhere."""
    return tuple(rule for rule in RULES if not rule.jurisdictions or jurisdiction in rule.jurisdictions)
