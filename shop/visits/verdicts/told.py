"""What a verdict is, and what it needs beside its step."""

from collections.abc import Sequence
from dataclasses import dataclass

from shop.bench import leakrate
from shop.bench.answers import Answer
from shop.bench.residue import Rest
from shop.models import Visit
from shop.visits.proofs import Proof


@dataclass(frozen=True)
class Told:
    """A verdict: its sentence, what else is said beside it, and the answer and picture it rests on."""

    sentence: str
    more: tuple[str, ...] = ()
    answer: Answer | None = None
    picture: object = None  # what `pictures.drawing_of` draws
    widened: bool = False  # whether an inside volume that nobody entered made it wider than it could be


@dataclass(frozen=True)
class Around:
    """What a verdict needs beside its step: the visit with its log, the air's pressure, and the recovery's proof."""

    visit: Visit
    atmosphere_pa: float
    proof: Proof | None = None
    why_no_proof: str = ""
    rest: Rest | None = None


def own_cautions(answer: Answer, standing: Sequence[str]) -> tuple[str, ...]:
    """Return the cautions that these readings gave reason for; the standing ones are on the page of the step."""
    return tuple(one for one in answer.cautions if one not in (*standing, leakrate.WITHIN_THREE))
