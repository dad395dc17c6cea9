"""Which cylinder is meant by what was scanned or typed: the code of its label, its address, or the number on it."""

from django.db.models import Q, QuerySet

from inventory.measure.marks import likeness, same
from inventory.measure.scans import Scan, read_scan
from inventory.models import Book, Cylinder


def cylinders_meant(rows: "QuerySet[Cylinder]", said: str) -> list[Cylinder]:
    """Return those of `rows` that a scan names: by its label, else by its number but for case, spaces and signs."""
    scan = read_scan(said)
    key = "" if scan.is_address else likeness(scan.text)
    by_number = Q(likeness=key) if key else Q(pk__in=())
    found = list(rows.filter(Q(label=scan.label or "none") | by_number).order_by("serial", "pk"))
    labelled = [one for one in found if one.label == scan.label]
    return labelled or [one for one in found if same(one.serial, scan.text)]


def the_cylinder(book: Book, said: str) -> Cylinder | None:
    """Return the one cylinder of a book that a scan names, wherever it is; None where it names none or several."""
    found = cylinders_meant(Cylinder.objects.filter(account__book=book).select_related("account"), said)
    here = [one for one in found if not one.is_gone]
    return found[0] if len(found) == 1 else here[0] if len(here) == 1 else None


def not_found(scan: Scan) -> str:
    """Return the sentence for a scan that names no cylinder of the book: what was read, and what is wrong with it."""
    read = f"“{scan.text}”"
    if scan.is_misread:
        return f"{read} is the address of a label with a character read wrong. Scan it again, or type its number."
    if scan.label and scan.is_address:
        return f"No cylinder of this book has the label {scan.label}. It was read as {read}."
    if scan.is_address:
        return f"{read} is an address and no label of a cylinder."
    return f"No cylinder of this book has {read} as its number or on its label."
