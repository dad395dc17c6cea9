"""The consignment note that travels with gas sent away, and what the receiver's paper says of it."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

from compliance.papers.cylinders import FLAMMABLE, NOT_WEIGHED, SUSPECT, cautions_of, marks_of
from compliance.papers.paper import CONSIGNMENT, Block, Facts, NothingToIssue, Paper, Signatures, Words
from compliance.papers.wording import (
    Wording,
    entered,
    issuer_of,
    number_in,
    wording_of,
)
from compliance.statement.sums import PURPOSE_OF_CAUSE as AWAY
from inventory import causes
from inventory.gases import filling
from inventory.gases.catalogue import MIXED, refrigerant
from inventory.gases.cautions import cautions_for
from inventory.models import Analysis, Consignment, Cylinder, Entry, Movement, Partner, Weighing
from inventory.shelf.accepted import Accepted, accepted_of
from shop.models import Workshop

FORTY_CFR = (
    "Name and address of the place that recovered gas is sent to: 40 CFR 82.42(b), where United States rules apply "
    "(as restated in EPA information collection request 1617.10)."
)
UN_SOURCE = "UN number: ADR/RID 4.1.4.1 P200, by the name of the gas. Who sends it decides what it is carried as."
SIGNED = "name, day, signature"
CARRIER_FIRST = (
    "The carrier’s own rules and the local rules for carrying gas come first. This note is not the transport document "
    "that they may ask for."
)


@dataclass(frozen=True)
class Sent:
    """Gas, or an empty cylinder, that left by one line."""

    entry: Entry
    cylinder: Cylinder
    partner: Partner
    number: str
    purpose: str
    moved: Movement | None
    reading: Weighing | None
    consignment: Consignment | None

    @property
    def code(self) -> str:
        """What it is."""
        return self.moved.refrigerant if self.moved else self.cylinder.refrigerant

    @property
    def grade(self) -> str:
        """Its grade."""
        return self.moved.grade if self.moved else self.cylinder.grade

    @property
    def mass_mg(self) -> int:
        """The net mass by the book."""
        return int(self.moved.mass_mg) if self.moved else 0

    @property
    def u_mg(self) -> float:
        """The standard uncertainty of the net mass."""
        return self.moved.u_mg if self.moved else 0.0

    @property
    def address(self) -> str:
        """Where it went; a sister workshop's is its own."""
        if self.partner.address.strip() or self.partner.sister is None:
            return self.partner.address.strip()
        sister = Workshop.objects.filter(book=self.partner.sister).first()
        return sister.address.strip() if sister else ""

    @property
    def marks(self) -> tuple[str, ...]:
        """The words that are set off."""
        return marks_of(self.code, suspect=self.grade == "suspect")

    @property
    def un_number(self) -> str:
        """The UN number of the gas by its name; empty where the catalogue has none, and for what is suspect."""
        return "" if self.grade == "suspect" else filling.un_number(self.code)


def consignment_note(workshop: Workshop, about: str, *, today: date) -> Paper:
    """Return the note that travels with gas sent away by the line that ``line:SEQ`` names.

    Once the receiver's paper is entered it prints that too, against what the weighing can tell.
    """
    sent, wording = _sent(workshop, number_in(about, "line")), wording_of(workshop)
    accepted = _accepted(sent)
    blocks: tuple[Block | None, ...] = (
        _still_asked(workshop, sent),
        _end("From", workshop, workshop.address),
        _end("To", sent.partner, sent.address, ("Kind", sent.partner.kind)),
        _what_is_sent(sent, wording),
        Words("Marks", tuple(_mark_said(mark) for mark in sent.marks), strong=True) if sent.marks else None,
        Words("For the carrier", (*_for_carrier(sent), CARRIER_FIRST)),
        Signatures((f"For the sender, {workshop.name}: {SIGNED}", f"Carrier: {SIGNED}")),
        *(_accepted_blocks(sent, accepted, wording) if accepted else _by_hand(sent)),
    )
    sources = (FORTY_CFR, UN_SOURCE) if sent.un_number else (FORTY_CFR,)
    return Paper(
        kind=CONSIGNMENT,
        title=f"Consignment note {sent.number}",
        about=about,
        issuer=issuer_of(workshop),
        blocks=tuple(filter(None, blocks)),
        lines=(sent.entry.seq,),
        bases=("net mass: one weighing less the empty mass", "give or take: two standard uncertainties"),
        sources=sources,
        figures=_sent_figures(sent, accepted, wording),
    )


def _sent(workshop: Workshop, seq: int) -> Sent:
    rows = Entry.objects.select_related("reversal", "consignment__partner__account", "consignment__cylinder__account")
    entry = rows.filter(book=workshop.book, seq=seq).first()
    if entry is None:
        raise NothingToIssue(f"This book has no line {seq}.")
    reversal = getattr(entry, "reversal", None)
    if reversal is not None:
        raise NothingToIssue(f"Line {seq} was reversed by line {reversal.seq}: by it nothing left.")
    moved = entry.movements.standing().filter(cause__in=AWAY).select_related("source", "target").first()
    consignment: Consignment | None = getattr(entry, "consignment", None)
    if consignment is not None:
        cylinder, partner = consignment.cylinder, consignment.partner
        number, purpose = consignment.number, consignment.purpose
    elif moved is not None:
        cylinder = Cylinder.objects.select_related("account").get(account=moved.source_id)
        partner = Partner.objects.select_related("account", "sister").get(account=moved.target_id)
        number, purpose = str(seq), "sister workshop" if partner.sister_id else causes.CAUSES[moved.cause].words
    else:
        raise NothingToIssue(f"By line {seq} nothing was sent away, so it has no consignment note.")
    reading = entry.weighings.filter(account=cylinder.account_id).select_related("scale").order_by("line").last()
    return Sent(entry, cylinder, partner, number, purpose, moved, reading, consignment)


def _still_asked(workshop: Workshop, sent: Sent) -> Words | None:
    asked = [
        f"The address of {whose} is not entered."
        for whose, address in (
            (f"the receiver, {sent.partner},", sent.address),
            ("the sender", workshop.address.strip()),
        )
        if not address
    ]
    if not asked:
        return None
    return Words("Still asked", (*asked, "Enter it and issue the note anew: the new one replaces this."), strong=True)


def _end(title: str, whose: Workshop | Partner, address: str, *kind: tuple[str, str]) -> Facts:
    """Return one end of the way: name, address, what sort of partner it is, registration."""
    rows = (("Name", whose.name), ("Address", entered(address)), *kind, ("Registration", entered(whose.registration)))
    return Facts(title, rows)


def _what_is_sent(sent: Sent, wording: Wording) -> Facts:
    gas = refrigerant(sent.code)
    rows = [
        ("Consignment", f"{sent.number}, line {sent.entry.seq} of the book"),
        ("Sent on", wording.when(sent.entry.occurred_at)),
        ("What for", sent.purpose),
        *((("Sender’s papers", paper),) if (paper := sent.consignment and sent.consignment.paper_number) else ()),
        ("Cylinder", f"{sent.cylinder.serial}, {sent.cylinder.kind}"),
        ("Refrigerant", f"{sent.code}, {gas.name}, safety class {gas.safety_class}"),
        ("Grade", sent.grade),
    ]
    if sent.code == MIXED:
        rows.append(("Identified as", _parts(sent)))
    if sent.un_number:
        rows.append(("UN number", f"UN {sent.un_number}"))
    if sent.reading is not None:
        rows.append(("Gross", f"{wording.mass(sent.reading.gross_mg)} on {sent.reading.scale}"))
        rows.append(("Empty mass", wording.mass(sent.reading.tare_mg)))
    else:
        rows.append(("Gross", NOT_WEIGHED))
    doubt = wording.give_or_take(sent.u_mg) if sent.u_mg else "not measured"
    rows.append(("Net", f"{wording.mass(sent.mass_mg)}, {doubt}" if sent.moved else "nothing by the book"))
    return Facts("What is sent", tuple(rows))


def _parts(sent: Sent) -> str:
    """Return what an identifier last showed of a mixture before it left."""
    shown = Analysis.objects.standing().filter(account=sent.cylinder.account_id)
    last = shown.filter(occurred_at__lte=sent.entry.occurred_at).order_by("occurred_at", "id").last()
    if last is None:
        return "never identified"
    # The largest first and air last; the order of keys is not kept by every database.
    parts = sorted(last.parts.items(), key=lambda part: (part[0] == "air", -float(part[1]), part[0]))
    return ", ".join(f"{code} {float(share) * 100:.1f} %" for code, share in parts)


def _mark_said(mark: str) -> str:
    if mark == SUSPECT:
        return f"{SUSPECT}: what is in it is not known to be what its name says. For reclaim or destruction alone."
    return f"{FLAMMABLE}: the cylinder bears the mark of a gas that burns."


def _for_carrier(sent: Sent) -> Iterator[str]:
    for caution in cautions_for("consignment"):
        yield caution.sentence
    yield from cautions_of([sent.code])


def _accepted(sent: Sent) -> Accepted | None:
    """Return what the receiver's paper says, or None where none is entered."""
    if sent.consignment is None:
        return None
    return accepted_of(sent.consignment, sent_mg=sent.mass_mg, u_mg=sent.u_mg, reading=sent.reading)


def _accepted_blocks(sent: Sent, accepted: Accepted, wording: Wording) -> tuple[Block, ...]:
    paper = accepted.consignment
    rows = (
        ("Their paper", f"{entered(paper.accepted_paper)}, {wording.on(paper.accepted_on)}"),
        ("Refrigerant accepted", wording.mass(accepted.accepted_mg)),
        ("Oil and waste", wording.mass_entered(paper.accepted_oil_mg)),
        ("Together", wording.mass(accepted.together_mg)),
        ("Difference to what was sent", wording.mass(accepted.difference_mg, signed=True)),
    )
    said = Words("", (accepted.words(wording.mass),), strong=True)
    return Facts("What the receiver accepted", rows), said, Signatures((_receiver_signs(sent),))


def _receiver_signs(sent: Sent) -> str:
    return f"For the receiver, {sent.partner}: {SIGNED}"


def _by_hand(sent: Sent) -> tuple[Block, ...]:
    words = (
        "The receiver writes here what was found, and the sender gets a copy back. Entered beside the line, it is "
        "printed on a new note that replaces this one."
    )
    rows = ("Refrigerant accepted, and unit", "Oil and waste, and unit", "Number and day of the receiver’s own paper")
    return Words("To be filled in by the receiver", (words,)), Signatures((*rows, _receiver_signs(sent)))


def _sent_figures(sent: Sent, accepted: Accepted | None, wording: Wording) -> dict[str, Any]:
    return {
        "line": sent.entry.seq,
        "number": sent.number,
        "on": wording.day(sent.entry.occurred_at),
        "purpose": sent.purpose,
        "cylinder": sent.cylinder.serial,
        "refrigerant": sent.code,
        "grade": sent.grade,
        "un_number": sent.un_number,
        "gross_mg": sent.reading.gross_mg if sent.reading else None,
        "tare_mg": sent.reading.tare_mg if sent.reading else None,
        "sent_mg": sent.mass_mg,
        "u_mg": round(sent.u_mg),
        "accepted_mg": accepted.accepted_mg if accepted else None,
        "oil_mg": sent.consignment.accepted_oil_mg if sent.consignment else None,
        "difference_mg": accepted.difference_mg if accepted else None,
        "can_tell_mg": accepted.can_tell_mg if accepted else None,
    }
