"""The files of photos: ``photos/<uid of the book>/<first two of the digest>/<digest>.jpg`` in the media folder."""

import hashlib
import os
from pathlib import Path
from tempfile import NamedTemporaryFile

from django.conf import settings

from inventory.book.refusals import LedgerError
from inventory.models import Book, Photo


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
