"""A made-up kind of document with every block, so that the engine is tested apart from the builders of real ones."""

from datetime import UTC, date, datetime
from typing import Any

from compliance.models import Document
from compliance.papers import sheet
from compliance.papers.paper import (
    Facts,
    Issuer,
    Label,
    NothingToIssue,
    Paper,
    Picture,
    Signatures,
    Stamp,
    Table,
    Words,
)
from inventory.models import Entry

KIND = "made-up record"
PLATE, NAME = "AB 12 CDE", "Petra Example"
SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 340 60" role="img"><title>A bar</title>'
    '<rect x="1" y="1" width="300" height="40" class="d-flow"/><text x="10" y="20">drawn</text></svg>'
)
QR_TEXT = "HTTP://BOOK.LAN/C/7K3MQ2"
STAMP = Stamp(
    number=12,
    issued_at=datetime(2026, 3, 4, 10, 40, tzinfo=UTC),
    issued_by="Tomas Lind",
    book="Port Ellery",
    book_uid="0b5e0a4e-4f0d-4a0e-8a51-1f0a1b2c3d4e",
    head_seq=214,
    head_digest="0123456789abcdef" * 4,
    replaces=3,
)
CODE = "7K3M-Q2AB-CDE4"


def blocks(*, rows: int = 3) -> tuple[Any, ...]:
    return (
        Words("What the record shows", ("868 g were recovered.", "Accounted for."), strong=True),
        Facts("Vehicle", (("Registration", PLATE), ("Refrigerant", "R-12"), ("Kept at", "2 Mill Lane\nPort Ellery"))),
        Table(
            "Legs of the recovery",
            ("Line", "Cylinder", "Before, kg", "After, kg", "Mass, kg"),
            tuple((str(row), "C-12, R-12 recovered", "9.340", "10.208", "0.868") for row in range(rows)),
            (2, 3, 4),
        ),
        Words("", ("“Give or take” is twice the standard uncertainty; a minus is −0.004 kg.",)),
        Picture(SVG, "The bar says what came out."),
        Label("C-12", (("Refrigerant", "R-12 recovered"), ("Limit", "13.685 kg")), QR_TEXT, ("FLAMMABLE",)),
        Signatures(("Technician, name and date", "Customer, name and date")),
    )


def paper(about: str = "visit:12", **fields: Any) -> Paper:
    working: dict[str, Any] = {
        "kind": KIND,
        "title": f"Made-up record of {PLATE}",
        "about": about,
        "issuer": Issuer("Port Ellery", "1 Quay Road, Port Ellery", "0100 22 33", "REG-77"),
        "blocks": blocks(),
        "lines": (12, 13),
        "bases": ("masses by two weighings unless said", "GWP: AR4"),
        "sources": ("JCGM 100:2008",),
        "cautions": ("Never fill a single-trip cylinder.",),
        **fields,
    }
    return Paper(**working)


def build(workshop: Any, about: str, *, today: date) -> Paper:
    """The made-up record rests on all lines that moved mass and says how much each moved.

    It is short, since some hundred are printed: `paper` has a block of every kind.
    """
    if about == "visit:404":
        raise NothingToIssue("Visit 404 has nothing to show.")
    entries = Entry.objects.filter(book=workshop.book, movements__isnull=False).order_by("seq").distinct()
    masses = [int(entry.movements.get().mass_mg) for entry in entries]
    figures = {
        "on": today.isoformat(),
        "vehicle": PLATE,
        "customer": {"name": NAME},
        PLATE: {"mass_mg": 7},
        "moved": [{"refrigerant": "R-134a", "grade": "virgin", "mass_mg": mass} for mass in masses],
    }
    return paper(
        about,
        issuer=Issuer(workshop.name, workshop.address, workshop.phone, workshop.registration),
        lines=tuple(entry.seq for entry in entries),
        figures=figures,
        blocks=(
            *blocks()[:2],
            blocks()[-1],
            Facts("Masses", tuple((f"Part {n}", f"{mass} mg") for n, mass in enumerate(masses, 1))),
        ),
    )


def labels(size: str = "100x70", count: int = 2) -> Paper:
    return paper(size=size, blocks=blocks()[5:6] * count, bases=(), sources=(), cautions=())


def altered(document: Document) -> bytes:
    """Return the same sheet with one digit of one mass changed, as somebody would print it who has the program."""
    made = build(document.workshop, document.about, today=date(2026, 3, 4))
    changed = made.blocks[-1]
    assert isinstance(changed, Facts)
    rows = tuple((name, value.replace("450000", "460000")) for name, value in changed.rows)
    stamp = Stamp(
        number=document.number,
        issued_at=document.issued_at,
        issued_by=str(document.issued_by),
        book=document.workshop.book.name,
        book_uid=str(document.workshop.book.uid),
        head_seq=document.head_seq,
        head_digest=document.head_digest,
    )
    forged = paper(blocks=(*made.blocks[:-1], Facts("Masses", rows)), issuer=made.issuer)
    return sheet.as_pdf(forged, stamp, document.code)
