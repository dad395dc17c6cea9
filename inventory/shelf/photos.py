"""Photos: a picture that was read (see `inventory.shelf.camera`) is kept in a file and sealed in the chain.

The file is ``photos/<uid of the book>/<first two of the digest>/<digest>.jpg`` in the media folder. It is written
before the line is, so that a line never seals what is not there; a file without a line does no harm. The same picture
added in two places is one file.
"""

import hashlib
import os
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path
from tempfile import NamedTemporaryFile
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from inventory.book import ledger
from inventory.book.audit import Fault
from inventory.book.draft import Draft
from inventory.book.ledger import Act
from inventory.book.refusals import LedgerError, WrongLine
from inventory.causes import CYLINDER, VEHICLE
from inventory.models import Account, Book, Entry, Photo
from inventory.shelf.camera import Picture

IN_TIME = timedelta(days=1)  # written within it, a photo is a witness
CONTEXT = "photo:"  # before what it is of, the context of the sealing line
SHOWN = {
    "scale": "a scale",
    "plate": "a plate",
    "label": "a label",
    "gauge": "a gauge",
    "joint": "a joint",
    "paper": "a paper",
    "other": "something else",
}

_STEP = re.compile(r"visit:\d+/step:\d+")


class NotKept(LedgerError):
    """The file could not be written; nothing is in the book then."""


def path_of(book: Book, digest: str) -> Path:
    """Return where the file of a digest lies."""
    return Path(settings.MEDIA_ROOT) / "photos" / str(book.uid) / digest[:2] / f"{digest}.jpg"


def keep(path: Path, content: bytes) -> None:
    """Write a file whole or not at all, and see it on the disk before the line is written."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with NamedTemporaryFile(dir=path.parent, prefix=".", suffix=".part", delete=False) as part:
            try:
                part.write(content)
                part.flush()
                os.fsync(part.fileno())
                Path(part.name).replace(path)
            except OSError:
                Path(part.name).unlink(missing_ok=True)
                raise
        _on_disk(path.parent)
    except OSError as error:
        raise NotKept(
            f"The photo could not be kept ({error.strerror}); nothing was written. "
            "Tell whoever runs this machine, and send it again then."
        ) from error


def _on_disk(folder: Path) -> None:
    """See the new name of a file on the disk."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def content_of(photo: Photo) -> bytes | None:
    """Return the bytes of a photo, None where they are missing, removed or not those that were sealed."""
    if photo.removed_at is not None:
        return None
    try:
        content = path_of(photo.book, photo.digest).read_bytes()
    except OSError:
        return None
    return content if hashlib.sha256(content).hexdigest() == photo.digest else None


@dataclass(frozen=True)
class Taken:
    """A picture that came with something else: the act of the line that seals it, and what it shows."""

    act: Act
    picture: Picture
    shows: str


def add_photo(
    book: Book,
    act: Act,
    picture: Picture,
    *,
    shows: str,
    line: Entry | None = None,
    account: Account | None = None,
    context: str = "",
) -> Photo:
    """Keep a picture and seal it in the book with one line; the same act sent twice is one photo.

    It is of exactly one thing: a line of the book, the account of a cylinder or a vehicle, or a visit's step, named as
    ``visit:12/step:345``. Raises WrongLine, NotKept, RequestKeyReused.
    """
    if shows not in Photo.SHOWS:
        raise WrongLine(f"A photo does not show {shows!r}; it may be {', '.join(Photo.SHOWS)}.")
    about = _about(book, line, account, context)
    content = {**act.content, "about": about, "shows": shows, "seals": picture.digest}
    act = replace(act, context=f"{CONTEXT}{about}", content=content)

    def build(draft: Draft) -> None:
        keep(path_of(draft.book, picture.digest), picture.content)
        draft.then(write)

    def write(entry: Entry) -> None:
        Photo.objects.create(
            book=entry.book,
            entry=entry,
            line=line,
            account=account,
            context=context,
            shows=shows,
            digest=picture.digest,
            width=picture.width,
            height=picture.height,
            size=len(picture.content),
            look=picture.look,
            taken_before_min=_minutes_before(picture, entry),
        )

    entry = ledger.write(book, act, build, kind=Entry.SEAL, seals=picture.digest)
    return Photo.objects.select_related("book", "entry").get(entry=entry)


def _minutes_before(picture: Picture, entry: Entry) -> int | None:
    """Return how many minutes before its line's time its camera took a picture; that clock itself is not kept."""
    if picture.taken_at is None:
        return None
    taken = picture.taken_at
    if taken.tzinfo is None:
        taken = taken.replace(tzinfo=ZoneInfo(entry.book.zone))
    return round((entry.occurred_at - taken).total_seconds() / 60)


def add_taken(book: Book, taken: Sequence[Taken], *, line: Entry | None = None, context: str = "") -> None:
    """Keep the pictures that came with a line or a step, each with a line of its own; none is doubled."""
    for one in taken:
        add_photo(book, one.act, one.picture, shows=one.shows, line=line, context=context)


def _about(book: Book, line: Entry | None, account: Account | None, context: str) -> str:
    """Return what a photo is of, as the sealing line names it."""
    if [line is not None, account is not None, bool(context)].count(True) != 1:
        raise WrongLine("A photo is of one thing: a line, a cylinder, a vehicle or a step.")
    if any(one is not None and one.book_id != book.pk for one in (line, account)):
        raise WrongLine("A photo stays within its book.")
    if account is not None and account.kind not in (CYLINDER, VEHICLE):
        raise WrongLine(f"There is nothing to photograph of {account}.")
    if context and not _STEP.fullmatch(context):
        raise WrongLine(f"{context!r} does not name a step of a visit.")
    return _named(line, account, context)


def _named(line: Entry | None, account: Account | None, context: str) -> str:
    if line is not None:
        return f"line:{line.seq}"
    return account.reference if account is not None else context


def remove_file(photo: Photo) -> None:
    """Remove a photo's file for good, since it shows what is nobody's business; the line and its digest stay.

    Wherever the same picture was added in this book it is removed too. The file goes when the transaction ends.
    """
    same = Photo.objects.filter(book=photo.book, digest=photo.digest, removed_at__isnull=True)
    with transaction.atomic():
        ledger.lock(photo.book)
        same.update(removed_at=timezone.now())
        transaction.on_commit(lambda: _unlink(photo))
    photo.refresh_from_db(fields=["removed_at"])


def _unlink(photo: Photo) -> None:
    with transaction.atomic():
        ledger.lock(photo.book)  # nobody adds the same picture meanwhile
        if not Photo.objects.filter(book=photo.book, digest=photo.digest, removed_at__isnull=True).exists():
            path_of(photo.book, photo.digest).unlink(missing_ok=True)


def faults(book: Book, using: str = "default", since: int = 0) -> Iterator[Fault]:
    """Yield the photos sealed after a line whose file or row is not what was sealed, in the order of their lines."""
    own = Photo.objects.using(using).filter(book=book)
    present = set(own.filter(removed_at__isnull=True).values_list("digest", flat=True))
    rows = own.filter(entry__seq__gt=since).select_related("book", "entry", "line", "account").order_by("entry__seq")
    for photo in rows.iterator():
        if said := _fault(photo, present):
            yield Fault(f"photo of line {photo.entry.seq}", said)
    sealed = Entry.objects.using(using).filter(book=book, seq__gt=since, kind=Entry.SEAL, context__startswith=CONTEXT)
    for seq in sealed.filter(photo__isnull=True).order_by("seq").values_list("seq", flat=True):
        yield Fault(f"photo of line {seq}", "is not in the book; the line seals it")


def _fault(photo: Photo, present: set[str]) -> str:
    path = path_of(photo.book, photo.digest)
    if photo.digest != photo.entry.seals or photo.entry.book_id != photo.book_id:
        return "names another picture than its line seals"
    if photo.entry.context != f"{CONTEXT}{_named(photo.line, photo.account, photo.context)}":
        return "is beside another thing than its line says"
    if photo.removed_at is not None:
        left = photo.digest not in present and path.exists()
        return "was removed, yet its file is still there" if left else ""
    if not path.is_file():
        return "has lost its file"
    return "" if content_of(photo) is not None else "is not what was sealed: its file was changed or cannot be read"


@dataclass(frozen=True)
class Shown:
    """A photo beside what it is of; `days_late` counts from when that happened to when the photo was written."""

    photo: Photo
    days_late: int = 0

    @property
    def words(self) -> str:
        """What it shows."""
        return SHOWN[self.photo.shows]


def shown(photos: Iterable[Photo], happened_at: datetime | None = None) -> list[Shown]:
    """Return photos as pages show them; `happened_at` is when what they are of happened, None of what lasts."""
    return [Shown(photo, days_late(photo, happened_at) if happened_at else 0) for photo in photos]


def days_late(photo: Photo, happened_at: datetime) -> int:
    """Return how many days after `happened_at` a photo was written; 0 within one day."""
    written_at = photo.entry.recorded_at
    if written_at - happened_at <= IN_TIME:
        return 0
    return (timezone.localdate(written_at) - timezone.localdate(happened_at)).days


def of_line(line: Entry) -> list[Shown]:
    """Return the photos of a line of the book, in the order in which they were written."""
    rows = Photo.objects.filter(line=line).select_related("entry").order_by("entry__seq")
    return shown(rows, line.occurred_at)


def of_account(account: Account) -> list[Shown]:
    """Return the photos of a cylinder or a vehicle, in the order in which they were written; joined records count."""
    return shown(Photo.objects.filter(account__in=account.together()).select_related("entry").order_by("entry__seq"))


def of_visit(book: Book, context: str) -> dict[str, list[Photo]]:
    """Return the photos of the steps of a visit, named as ``visit:12``, by their own context; one query."""
    rows = Photo.objects.filter(book=book, context__startswith=f"{context}/step:")
    found: dict[str, list[Photo]] = {}
    for photo in rows.select_related("entry").order_by("entry__seq"):
        found.setdefault(photo.context, []).append(photo)
    return found
