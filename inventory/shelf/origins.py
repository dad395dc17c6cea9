"""What may come into a book as a cylinder, and what is asked of each: where from, of which kind, which fields.

A field that does not apply to a kind is not shown and not kept: cans are counted and have no empty mass, a machine
shows what is in its own tank, a single-trip cylinder is never filled: it has no limit and no test date.
"""

from dataclasses import dataclass

SINGLE_TRIP, REFILLABLE, RECOVERY, TANK, CANS = "single-trip", "refillable", "recovery", "machine tank", "can lot"
KIND_WORDS = {
    SINGLE_TRIP: "single-trip cylinder",
    REFILLABLE: "refillable cylinder",
    RECOVERY: "recovery cylinder",
    TANK: "machine with its own tank",
    CANS: "lot of cans",
}

BOUGHT, CUSTOMERS, RECLAIMED, STOOD_HERE, EMPTY = (
    "purchase",
    "customer-gas-in",
    "returned-reclaimed",
    "opening-stock",
    "empty",
)
ORIGIN_WORDS = {
    BOUGHT: "bought, with gas in it",
    EMPTY: "it comes empty",
    STOOD_HERE: "stood here before the book began",
    CUSTOMERS: "a customer’s gas",
    RECLAIMED: "own gas back from reclaim",
}
WAYS = {
    BOUGHT: (SINGLE_TRIP, REFILLABLE, CANS),
    EMPTY: (RECOVERY, REFILLABLE, TANK),
    STOOD_HERE: (SINGLE_TRIP, REFILLABLE, RECOVERY, TANK, CANS),
    CUSTOMERS: (SINGLE_TRIP, REFILLABLE, RECOVERY, CANS),
    RECLAIMED: (REFILLABLE, RECOVERY, SINGLE_TRIP),
}
"""The kinds that come from each origin. Nothing is filled into a single-trip cylinder: it does not come empty."""

SINGLE, PAPER, COUNT, MACHINE = "single", "paper", "count", "machine"
MANNER_WORDS = {
    SINGLE: "by one weighing, gross less empty mass",
    PAPER: "by the partner’s paper, weighed or not",
}

FIXED_GRADE = {CUSTOMERS: "suspect", RECLAIMED: "reclaimed"}
NOTES = {
    BOUGHT: "It was bought, with gas in it.",
    STOOD_HERE: "It stood here before the book began.",
    CUSTOMERS: "A customer’s gas. It is suspect until it has been tested; a change of grade follows when an identifier "
    "has shown what it is.",
    RECLAIMED: "Own gas, back from reclaim: its grade is reclaimed.",
}
LIKELY_GRADE = {
    (BOUGHT, SINGLE_TRIP): "virgin",
    (BOUGHT, REFILLABLE): "virgin",
    (BOUGHT, CANS): "virgin",
    (EMPTY, RECOVERY): "recovered",
    (EMPTY, REFILLABLE): "virgin",
    (EMPTY, TANK): "recovered",
    (STOOD_HERE, SINGLE_TRIP): "virgin",
    (STOOD_HERE, CANS): "virgin",
    (STOOD_HERE, RECOVERY): "recovered",
}
"""What the form begins with; where no grade is likely, it is to be chosen."""


@dataclass(frozen=True)
class Way:
    """How one cylinder comes: its origin and kind."""

    origin: str
    kind: str

    @property
    def is_offered(self) -> bool:
        """Whether a cylinder of this kind comes from there at all."""
        return self.kind in WAYS.get(self.origin, ())

    @property
    def is_weighed(self) -> bool:
        """Whether it stands on a scale: cans are counted, a machine's tank is read on the machine."""
        return self.kind not in (TANK, CANS)

    @property
    def is_filled(self) -> bool:
        """Whether anything is ever filled into it here by weight, so that limit and test date matter."""
        return self.kind in (REFILLABLE, RECOVERY)

    @property
    def has_partner(self) -> bool:
        """Whether it comes from a partner."""
        return self.origin in (BOUGHT, CUSTOMERS, RECLAIMED)

    @property
    def has_paper(self) -> bool:
        """Whether a paper with a mass comes with it."""
        return self.origin in (BOUGHT, RECLAIMED)

    @property
    def basis(self) -> str:
        """How its content is known where nothing else is said; empty where it comes empty."""
        if self.origin == EMPTY:
            return ""
        return {TANK: MACHINE, CANS: COUNT}.get(self.kind, SINGLE)

    @property
    def title(self) -> str:
        """The head of its page."""
        return f"{'Bring in an empty' if self.origin == EMPTY else 'Receive a'} {KIND_WORDS[self.kind]}"

    @property
    def up_front(self) -> tuple[str, ...]:
        """The fields that stand open, in their order."""
        names = [*(("partner",) if self.has_partner else ()), "serial", "refrigerant"]
        if self.origin == STOOD_HERE:
            names.append("grade")
        names += {CANS: ["can_count", "can_content"], TANK: self._of_machine()}.get(self.kind, self._of_scale())
        if self.has_paper:
            names += ["paper_number", *(("paper_mass",) if self.is_weighed else ())]
        if self.origin == STOOD_HERE:
            names += ["stood_before", "note"]
        return tuple(names)

    @property
    def set_aside(self) -> tuple[str, ...]:
        """The fields that stand folded, in their order."""
        names: list[str] = []
        if self.origin in (BOUGHT, EMPTY):
            names.append("grade")
        if self.is_weighed:
            names += [*(("manner",) if self.has_paper else ()), "tare_source", "tare_limit"]
            names += ["gross", "scale"] if self.origin == EMPTY else []
            names += ["water_capacity"] if self.kind == SINGLE_TRIP else []
        if self.is_filled:
            names += ["service_pressure", *(("requalify_by",) if self.origin != EMPTY else ())]
        names += ["can_limit"] if self.kind == CANS else []
        return (*names, "place", *(("note",) if self.origin != STOOD_HERE else ()), "occurred_at")

    def _of_machine(self) -> list[str]:
        return [*(("machine_mass",) if self.origin != EMPTY else ()), "machine_limit", "recycles"]

    def _of_scale(self) -> list[str]:
        limit = ["water_capacity", "filling_limit"] if self.is_filled else []
        if self.origin == EMPTY:
            return ["tare", *limit, "requalify_by"]
        return ["gross", "scale", "tare", *limit]
