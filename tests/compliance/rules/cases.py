"""A case for each rule: facts that meet it, facts that break it (or leave it open), facts it does not apply to."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import pytest

from compliance.rules.facts import Workshop


@dataclass(frozen=True)
class Case:
    """`met` is None for a rule that only asks; `state` is what the broken facts give."""

    rule: str
    met: Workshop | None
    broken: Workshop
    apart: Workshop
    state: str = "breach"


def each(said_of: Mapping[str, tuple[tuple[str, Workshop, str | None], ...]]) -> list[Any]:
    """Return the rows of a table by rules as parameters: the rule, the facts, the one state or None for no word."""
    return [
        pytest.param(rule, facts, state, id=f"{rule}: {words}")
        for rule, rows in said_of.items()
        for words, facts, state in rows
    ]
