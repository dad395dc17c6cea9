"""A case for each rule: facts that meet it, facts that break it (or leave it open), facts it does not apply to."""

from dataclasses import dataclass

from compliance.rules.facts import Workshop


@dataclass(frozen=True)
class Case:
    """`met` is None for a rule that only asks; `state` is what the broken facts give."""

    rule: str
    met: Workshop | None
    broken: Workshop
    apart: Workshop
    state: str = "breach"
