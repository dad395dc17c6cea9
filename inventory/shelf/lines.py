"""What a line of the book says of itself, in words."""

from inventory.causes import CAUSES
from inventory.measure.displays import in_book
from inventory.models import Book, Entry, Movement, Photo, Weighing
from inventory.shelf.photos import SHOWN

PLACES = ("visit", "cylinder", "vehicle", "line")
"""What an entry may belong to that has a page."""


def place_of(context: str) -> str:
    """Return the words for what an entry belongs to: "visit 214" of ``visit:214``; empty where it has no page.

    Of a photo it is what the photo is of, such as ``photo:line:12`` or ``photo:visit:214/step:9``.
    """
    kind, _, named = context.removeprefix("photo:").partition(":")
    number = named.partition("/step:")[0]
    return f"{kind} {number}" if number.isdigit() and kind in PLACES else ""


def dropped_line(context: str) -> int | None:
    """Return the number of the line whose reading before a sealing line drops; None of any other."""
    kind, _, number = context.partition(":")
    return int(number) if kind == "line" and number.isdigit() else None


def reversed_by(entry: Entry) -> Entry | None:
    """Return the entry that reversed this one, or None."""
    return getattr(entry, "reversal", None)


def earlier_readings(entry: Entry) -> list[Weighing]:
    """Return the first readings of pairs whose second stands in a line: those that an earlier line has."""
    here = list(entry.weighings.order_by("line"))
    begun = {one.account_id for one in here if one.role == Weighing.BEFORE}
    before = Weighing.objects.filter(role=Weighing.BEFORE, entry__seq__lt=entry.seq).order_by("-pk")
    before = before.select_related("account", "scale", "entry")
    ended = (one.account_id for one in here if one.role == Weighing.AFTER and one.account_id not in begun)
    return [one for account in ended if (one := before.filter(account=account).first()) is not None]


def marks_of(entry: Entry, book: Book) -> str:
    """Return the words for a line's state: written, late, reversed, in a closed year."""
    words = []
    if (answer := reversed_by(entry)) is not None:
        words.append(f"reversed by line {answer.seq}")
    if entry.kind == Entry.REVERSE and entry.reverses is not None:
        words.append(f"reverses line {entry.reverses.seq}")
    if entry.is_late:
        words.append("late")
    if book.closed_through is not None and entry.booked_on <= book.closed_through:
        words.append("in a closed year")
    return ", ".join(words) or "written"


def sentences(entry: Entry, unit: str, most: int = 4) -> list[str]:
    """Return what a line did, a sentence for each movement; weighings where nothing moved."""
    moved = sorted(entry.movements.all(), key=lambda movement: movement.line)
    said = [sentence(movement, unit) for movement in moved]
    if not said:
        read = sorted(entry.weighings.all(), key=lambda weighing: weighing.line)
        said = [f"{one.account} weighed, {one.said} gross: agrees" for one in read]
    if entry.kind == Entry.CLOSE:
        said.append(f"Closed through {entry.context.removeprefix('closed:')}")
    if entry.kind == Entry.SEAL:
        said.append(seal_sentence(entry))
    return said if len(said) <= most else [*said[:most], f"and {len(said) - most} more"]


def seal_sentence(entry: Entry) -> str:
    """Return what a line seals that is kept beside the book, in words."""
    if (dropped := dropped_line(entry.context)) is not None:
        return f"The reading before of line {dropped} dropped: no second one came"
    photo: Photo | None = getattr(entry, "photo", None)
    if photo is not None:
        return f"Seals a photo of {SHOWN[photo.shows]}, for {place_of(entry.context)}"
    return f"Seals {entry.context.replace(':', ' ') or 'what is kept beside the book'}"


def sentence(movement: Movement, unit: str) -> str:
    """Return one movement in words: its cause, from, to and mass."""
    words = CAUSES[movement.cause].words
    words = words[0].upper() + words[1:]
    gas = f"{movement.refrigerant} {movement.grade}"
    return f"{words}: {movement.source} to {movement.target}, {in_book(int(movement.mass_mg), unit)} {gas}"
