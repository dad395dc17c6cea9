"""The list of rules in compliance/rules/README.md is the list of rules that are kept, line by line."""

from pathlib import Path

from compliance.rules import all as all_rules
from compliance.rules.all import RULES
from compliance.rules.rule import Rule

README = Path(all_rules.__file__).parent / "README.md"
HEAD = "| id | duty | source | what it is | how its text is known |"


def documented() -> list[str]:
    """The lines of the table under its head, in their order."""
    lines = README.read_text(encoding="utf-8").splitlines()
    assert HEAD in lines, f"{README} has lost its table of rules"
    rows = lines[lines.index(HEAD) + 2 :]
    return rows[: next((place for place, line in enumerate(rows) if not line.startswith("|")), len(rows))]


def line_of(rule: Rule) -> str:
    return f"| `{rule.id}` | {rule.duty} | {rule.source} | {rule.standing} | {rule.known} |"


def test_each_rule_has_its_line_and_each_line_its_rule() -> None:
    assert documented() == [line_of(rule) for rule in RULES]
