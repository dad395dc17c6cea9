"""What is still asked of a visit, computed from the steps that stand. Pure: no database.

Nothing that is missing is silently passed over, and an answer such as "no label" is an answer.
"""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from shop.visits.kinds import BY_NAME, KINDS
from shop.visits.questions import key_of
from shop.visits.spotcheck import ONE_IN, SPOT_CHECK, is_chosen
from shop.visits.steps import (
    NO,
    NOT_KNOWN,
    OPEN_ON_ARRIVAL,
    OPTIONAL,
    Data,
    StepField,
    StepKind,
    air_pa,
    si_of,
    text_of,
)

WORK = ("circuit opened", "circuit closed", "part out", "part in", "flush", "repair")
"""What is done to the circuit itself; what proves that it is tight and dry has to follow it."""


@dataclass(frozen=True)
class Done:
    """A step that stands in the log; `live` is false once a newer one has replaced it or its line was reversed."""

    id: int
    kind: str
    data: Data
    live: bool = True
    refrigerant: str = ""  # what moved, where it moved mass
    photographed: bool = False  # a photo of it is in the book


@dataclass(frozen=True)
class VehicleFacts:
    """What the book and the vehicle's record say: masses in milligrams, the book's balance by refrigerant."""

    refrigerant: str = ""
    electric_compressor: bool = False
    held_mg: Mapping[str, int] = field(default_factory=dict)
    atmosphere_pa: float = 101_325.0
    second_person: bool = False  # somebody who did none of its steps may look at the visit


@dataclass(frozen=True)
class Asked:
    """One thing still asked: the kind of step that answers it, in words, and why; `step` where one has a gap."""

    kind: str
    words: str
    why: str = ""
    step: int | None = None
    field: str = ""  # where it asks for one field of that step

    @property
    def key(self) -> str:
        """The key of its question; that of the kind where several fields are asked together."""
        kind = BY_NAME[self.kind]
        return key_of(kind, kind.field(self.field) if self.field else None)

    @property
    def kind_slug(self) -> str:
        """The kind as it stands in an address."""
        return BY_NAME[self.kind].slug


def gaps(kind: StepKind, data: Data, *, photographed: bool = False) -> tuple[StepField, ...]:
    """Return the fields of a written step that are still asked; "not known" is written and stays open.

    `photographed`: a photo of it is in the book, so that none is asked for.
    """
    found = []
    for one in kind.fields:
        if one.need == OPTIONAL or not one.applies(data) or (one.type == "photo" and photographed):
            continue
        entry = data.get(one.name) or {}
        empty = entry.get("text") in (None, "", [], ()) and entry.get("si") is None
        answer = text_of(data, one.name).strip().lower()
        if empty or (one.type != "choice" and answer in (NOT_KNOWN, "unknown")):
            found.append(one)
    return tuple(found)


def asked(steps: Iterable[Done], facts: VehicleFacts, left_out: Collection[str] = ()) -> tuple[Asked, ...]:
    """Return what is still asked of a visit, in the order in which the work goes.

    `left_out` are the keys of questions that are not asked here, as `shop.visits.questions` names them.

    `steps` are all steps of the visit in the order in which they happened. Steps that are missing come first, then
    gaps within steps, then the hand-over. Nothing is passed over because a later step stands already.
    """
    log = _Log([step for step in steps if step.live], facts)
    parts = (_before_work, _gas_out, _open_circuit, _proof, _gas_in, _ends, _spot_check)
    found = [one for part in parts for one in part(log) if one.key not in left_out]
    found += _gaps_of(log, left_out)
    return (*found, *(() if log.has("hand-over") else (_ask("hand-over"),)))


class _Log:
    """The living steps of a visit in their order, with the questions that the rules ask of them."""

    def __init__(self, steps: Sequence[Done], facts: VehicleFacts) -> None:
        self.steps, self.facts = steps, facts

    def has(self, *kinds: str) -> bool:
        return any(step.kind in kinds for step in self.steps)

    def last(self, kind: str) -> Done | None:
        return next((step for step in reversed(self.steps) if step.kind == kind), None)

    def place(self, *kinds: str) -> int:
        """The place of the last step of these kinds, -1 where there is none."""
        return max((place for place, step in enumerate(self.steps) if step.kind in kinds), default=-1)

    def follows(self, kind: str, *after: str) -> bool:
        """Whether the last step of `kind` stands after the last of `after`."""
        return self.place(kind) > self.place(*after)

    @property
    def arrived_open(self) -> bool:
        received = self.last("received")
        return received is not None and text_of(received.data, "state") in OPEN_ON_ARRIVAL

    @property
    def held_mg(self) -> int:
        return sum(mass for mass in self.facts.held_mg.values() if mass > 0)

    @property
    def stood_above_mg(self) -> bool:
        """Whether the standing pressure was above the atmosphere by more than a needle's width."""
        stood = self.last("standing pressure")
        pressure_pa = si_of(stood.data, "pressure") if stood else None
        around_pa = air_pa(stood.data if stood else {}, self.facts.atmosphere_pa)
        return pressure_pa is not None and float(pressure_pa) > around_pa + 5_000

    @property
    def worked_on(self) -> bool:
        """Whether anything was done to the circuit that asks for its proof.

        A conversion alone does where it stands before the vacuum hold and the charge: entered after either it says
        what the vehicle is for now, and nothing was opened that had been held.
        """
        first = next(
            (step.kind for step in self.steps if step.kind in ("vacuum hold", "charge", "conversion done")), ""
        )
        return self.has(*WORK) or first == "conversion done"


def _ask(kind: str, why: str = "", step: int | None = None) -> Asked:
    return Asked(kind, BY_NAME[kind].words, why, step)


def _before_work(log: _Log) -> Iterator[Asked]:
    for kind in ("received", "label read", "ports seen"):
        if not log.has(kind):
            yield _ask(kind)
    if not log.has("standing pressure") and not log.arrived_open:
        yield _ask("standing pressure", "it is the witness of what was inside")
    if not log.has("identified") and not (log.arrived_open and not log.has("recovery")):
        yield _ask("identified", "before a machine is joined to it")


def _gas_out(log: _Log) -> Iterator[Asked]:
    recovery = log.last("recovery")
    stopped = text_of(recovery.data, "stopped") if recovery else ""
    if recovery and stopped not in ("", "done"):
        yield _ask("recovery", f"the last leg stopped: {stopped}")
    elif recovery is None and not log.has("charge", "remainder settled"):
        if log.stood_above_mg:
            yield _ask("recovery", "it stood above the atmosphere")
        elif log.held_mg > 0 and not log.arrived_open:
            yield _ask("recovery", f"the book has {log.held_mg / 1000:.0f} g in it")
    if recovery is None and log.has("circuit opened") and not log.arrived_open and not log.has("standing pressure"):
        yield _ask("recovery", "the circuit was opened with no recovery and no standing pressure")
    emptied = recovery is not None or log.arrived_open or log.has("remainder settled")
    if emptied and log.held_mg > 0 and not log.has("charge"):
        yield _ask("remainder settled", f"the book still has {log.held_mg / 1000:.0f} g in the vehicle")


def _open_circuit(log: _Log) -> Iterator[Asked]:
    opened, parts = log.has("circuit opened"), log.has("part out", "part in", "flush")
    if log.facts.electric_compressor and opened and not log.has("high voltage isolated"):
        yield _ask("high voltage isolated", "the compressor is electric")
    if parts and not (opened or log.arrived_open):
        yield _ask("circuit opened", "a part was changed")
    if opened and not log.follows("circuit closed", "circuit opened"):
        yield _ask("circuit closed", "it was opened")
    if parts and not log.has("oil balance"):
        yield _ask("oil balance", "parts with oil in them were changed")
    search = log.last("leak search") if log.follows("leak search", "after-search") else log.last("after-search")
    leaking = si_of(search.data, "leaking") if search else None
    mended = log.follows("repair", "leak search", "after-search") or log.has("declined")
    if leaking and float(leaking) > 0 and not mended:
        yield _ask("repair", f"{float(leaking):.0f} joints leak")


def _proof(log: _Log) -> Iterator[Asked]:
    if not log.worked_on and not log.arrived_open:
        return
    for kind in ("pressure hold", "leak search", "pulling vacuum", "vacuum hold"):
        searched = kind == "leak search" and log.follows("after-search", *WORK)
        if not log.follows(kind, *WORK) and not searched:
            yield _ask(kind, "the circuit was worked on")


def _gas_in(log: _Log) -> Iterator[Asked]:
    charge = log.last("charge")
    if charge is None:
        if (log.has("recovery", "circuit closed") or log.arrived_open) and not log.has("declined"):
            yield _ask("charge", "it is empty")
        return
    if log.has("recovery") and not log.worked_on and not log.has("vacuum hold"):
        yield _ask("vacuum hold", "it was charged")
    for kind in ("running test", "after-search"):
        if not log.follows(kind, "charge"):
            yield _ask(kind, "it was charged")
    if charge.refrigerant and log.facts.refrigerant and charge.refrigerant != log.facts.refrigerant:
        yield _ask("conversion done", f"{charge.refrigerant} was charged, the vehicle is for {log.facts.refrigerant}")


def _ends(log: _Log) -> Iterator[Asked]:
    declined = log.last("declined")
    if declined and text_of(declined.data, "signed") == NO:
        yield replace(_ask("declined", "not signed by the customer", declined.id), field="signed")


def _spot_check(log: _Log) -> Iterator[Asked]:
    chosen = any(is_chosen(step.data) for step in log.steps if step.kind == "hand-over")
    if chosen and log.facts.second_person and not log.has(SPOT_CHECK):
        yield _ask(SPOT_CHECK, f"the book’s digest chose this visit, as one in {ONE_IN}: somebody else looks at it")


def _gaps_of(log: _Log, left_out: Collection[str]) -> Iterator[Asked]:
    """Return the gaps of the last step of each kind that are asked here: legs and parts each on their own."""
    several = ("recovery", "charge", "part out", "part in", "repair", "circuit opened", "circuit closed", "interrupted")
    for place, step in enumerate(log.steps):
        if step.kind not in several and place != log.place(step.kind):
            continue
        kind = BY_NAME.get(step.kind)
        missing = gaps(kind, step.data, photographed=step.photographed) if kind else ()
        wanted = [one for one in missing if kind and key_of(kind, one) not in left_out]
        if kind and wanted:
            words = ", ".join(one.words.lower() for one in wanted)
            yield Asked(kind.name, f"{kind.words}: {words}", "not entered", step.id)


def next_kinds(open_points: Iterable[Asked]) -> tuple[StepKind, ...]:
    """Return every kind of step, those still asked first, in the order in which they are asked."""
    wanted = list(dict.fromkeys(one.kind for one in open_points if one.step is None))
    return tuple(BY_NAME[name] for name in wanted) + tuple(kind for kind in KINDS if kind.name not in wanted)
