"""A whole book written as one ZIP: a CSV for each kind of record, `book.json` about them, and the pictures.

Everything is read at one moment of the database, row by row, so that memory stays flat.
"""

import io
import json
import zipfile
from collections.abc import Callable
from pathlib import Path
from tempfile import NamedTemporaryFile
from typing import Any

from django.utils import timezone

from inventory.book import audit
from inventory.models import Book, Photo
from inventory.output.files import csv_of
from inventory.shelf import photos
from shop.importing.whole.tables import (
    FORMAT,
    MANIFEST,
    PICTURES,
    TABLES,
    VERSION,
    WORKSHOP,
    Table,
)
from shop.models import Workshop

TELLS = 1_000  # rows between two words of progress
Progress = Callable[[int, int], None]


def give(workshop: Workshop, path: Path, *, pictures: bool, progress: Progress = lambda done, total: None) -> int:
    """Write the book of a workshop to `path`, whole or not at all; return how many records it has."""
    with NamedTemporaryFile(dir=path.parent, prefix=".", suffix=".part", delete=False) as part:
        try:
            with audit.snapshot(), zipfile.ZipFile(part, "w", zipfile.ZIP_DEFLATED, compresslevel=3) as file:
                rows = _Writing(workshop, file, progress).write(pictures=pictures)
            Path(part.name).replace(path)
        except BaseException:
            Path(part.name).unlink(missing_ok=True)
            raise
    return rows


class _Writing:
    """One book on its way into a ZIP."""

    def __init__(self, workshop: Workshop, file: zipfile.ZipFile, progress: Progress) -> None:
        self.workshop, self.file, self.progress = workshop, file, progress
        self.book = Book.objects.get(pk=workshop.book_id)
        self.done = self.total = 0

    def write(self, *, pictures: bool) -> int:
        counts = {table: table.rows(self.book).count() for table in TABLES}
        self.total = sum(counts.values())
        for table in TABLES:
            self._table(table)
        left = self._pictures() if pictures else None
        about = self._about({table.name: count for table, count in counts.items()}, pictures=pictures, left=left)
        self.file.writestr(MANIFEST, json.dumps(about, ensure_ascii=False, indent=2) + "\n")
        self.progress(self.total, self.total)
        return self.total

    def _table(self, table: Table) -> None:
        with self.file.open(f"{table.name}.csv", "w", force_zip64=True) as raw:
            text = io.TextIOWrapper(raw, encoding="utf-8", newline="")
            for number, line in enumerate(csv_of(table.columns, table.written(self.book))):
                text.write(line)
                self.done += bool(number)
                if self.done % TELLS == 0:
                    self.progress(self.done, self.total)
            text.flush()
            text.detach()

    def _pictures(self) -> int:
        """Write each picture once; return how many are not there any more."""
        kept = Photo.objects.filter(book=self.book, removed_at__isnull=True)
        left = 0
        for digest in kept.order_by("digest").values_list("digest", flat=True).distinct():
            path = photos.path_of(self.book, digest)
            if path.is_file():
                self.file.write(path, f"{PICTURES}{digest}.jpg", compress_type=zipfile.ZIP_STORED)
            else:
                left += 1
        return left

    def _about(self, counts: dict[str, int], *, pictures: bool, left: int | None) -> dict[str, Any]:
        closed = self.book.closed_through
        return {
            "format": FORMAT,
            "version": VERSION,
            "made_at": timezone.now().isoformat(timespec="seconds"),
            "book": self.book.name,
            "uid": str(self.book.uid),
            "zone": self.book.zone,
            "closed_through": closed.isoformat() if closed else None,
            "head_line": self.book.head_seq,
            "head_digest": self.book.head_digest,
            "workshop": {field.name: getattr(self.workshop, field.name) for field in WORKSHOP},
            "pictures": pictures,
            "pictures_not_there": left,
            "rows": counts,
        }
