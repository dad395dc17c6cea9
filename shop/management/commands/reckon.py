"""One measurement from the command line: the same answer as on its page."""

import json
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from inventory.measure.own import METRIC
from shop.checks import registry as checks
from shop.checks.values import CheckAnswer, CheckFault, spoken


class Command(BaseCommand):
    help = "Work out one measurement: reckon NAME key=value ... (values as people type them)."
    requires_system_checks = ()

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("words", nargs="*", metavar="NAME key=value", help=", ".join(checks.CHECKS))
        # It takes what follows it, since a parser does not come back to positional words after an option.
        parser.add_argument("--json", nargs="*", metavar="key=value", help="SI units, for scripts")

    def handle(self, *args: Any, **options: Any) -> None:
        words = [*options["words"], *(options["json"] or [])]
        if not words:
            raise CommandError(f"Name a check: {', '.join(checks.CHECKS)}.")
        try:
            answer = checks.reckon(words[0], _typed(words[1:]))
        except CheckFault as fault:
            raise CommandError(fault.sentence) from None
        answer = spoken(answer, METRIC)
        self.stdout.write(_as_text(answer) if options["json"] is None else _as_json(answer))


def _typed(values: list[str]) -> dict[str, str]:
    typed: dict[str, str] = {}
    for one in values:
        key, equals, text = one.partition("=")
        if not equals:
            raise CheckFault(f"{one!r} is no key=value.")
        if key in typed:
            raise CheckFault(f"{key!r} is given twice.")
        typed[key] = text
    return typed


def _as_json(answer: CheckAnswer) -> str:
    said = {
        "verdict": answer.verdict,
        "sentence": answer.sentence,
        **answer.figures,
        "formula": answer.formula,
        "inputs": dict(answer.inputs),
        "sources": list(answer.sources),
        "cautions": list(answer.cautions),
    }
    return json.dumps(said, ensure_ascii=False, indent=2, allow_nan=False)


def _as_text(answer: CheckAnswer) -> str:
    parts = [answer.sentence, "", f"Formula: {answer.formula}", "", "As read:"]
    parts += [f"  {label}: {echo}" for label, echo in answer.inputs]
    parts += ["", "Workings:", *(f"  {what}: {value}" for what, value in answer.workings)]
    parts += ["", "Sources:", *(f"  {one}" for one in answer.sources)]
    parts += ["", *answer.cautions] if answer.cautions else []
    return "\n".join(parts)
