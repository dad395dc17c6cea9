"""A copy of everything while the book is served: database, photos and, where asked for, secrets; proved on the copy."""

import os
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from uuid import UUID

from django.conf import settings
from django.db import connection
from django.db.migrations.recorder import MigrationRecorder
from django.utils import timezone

from shop.keeping import copies, databases
from shop.keeping.copies import DATABASE, PHOTOS, SECRETS, Head, Manifest
from shop.keeping.databases import BESIDE, SQLITE, Unkept
from shop.models import Backup
from shop.serving import machine

NOT_PROVED = "-not-proved.zip"
ON_THE_COPY = "verify, on the copy"
ON_THE_DATABASE = "verify, on the database: its role may make none to try the copy in"
_HEADS = (
    "SELECT b.name, b.uid, b.head_seq, b.head_digest, (SELECT e.booked_on FROM inventory_entry e "
    "WHERE e.book_id = b.id AND e.seq = b.head_seq) FROM inventory_book b ORDER BY b.name"
)


@dataclass(frozen=True)
class Made:
    """What came of a backup: `fault` is what `verify` said of the copy; where there is one, nothing was put away."""

    file: Path
    manifest: Manifest
    put_away: tuple[Path, ...]
    fault: str


def backup(folder: Path, *, keep: int | None = None, with_secrets: bool = False) -> Made:
    """Copy everything into a new file of a folder and prove it; then leave the newest `keep` copies there."""
    moment = timezone.now().astimezone(UTC)
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        with tempfile.TemporaryDirectory(dir=folder, prefix=".copy-") as own:
            return _made(folder, Path(own), moment, keep, with_secrets)
    except OSError as error:
        raise Unkept(f"The copy could not be written in {folder}: {error.strerror or error}.") from None


def _made(folder: Path, own: Path, moment: datetime, keep: int | None, with_secrets: bool) -> Made:
    copied = own / DATABASE
    kind = databases.copy_out(copied)
    fault, proved, heads = _tried(kind, copied)
    secrets = dict(secret_files())
    manifest = Manifest(
        made_at=moment.isoformat(timespec="seconds"),
        database=kind,
        migrations=sorted(f"{app}.{name}" for app, name in MigrationRecorder(connection).applied_migrations()),
        books=heads,
        left_out=["who is signed in", *([] if with_secrets else [f"secret: {name}" for name in secrets])],
        proved=fault or proved,
    )
    kept = [(f"{SECRETS}{name}", path) for name, path in secrets.items()] if with_secrets else []
    part = own / "whole.zip"
    manifest = copies.write(part, manifest, [(DATABASE, copied), *_photos(), *kept])
    file = _named(folder, moment, bool(fault))
    os.link(part, file)
    _on_disk(file)
    if fault:
        return Made(file, manifest, (), fault)
    Backup.objects.create(made_at=moment, file_name=file.name, size=file.stat().st_size)
    return Made(file, manifest, tuple(_put_away(folder, manifest.uids, keep)), "")


def _tried(kind: str, copied: Path) -> tuple[str, str, list[Head]]:
    """Return what `verify` found wrong in the copy, how it was asked, and where each book ends in it."""
    with databases.tried(kind, copied) as url:
        done = databases.manage(url or databases.own_url(), "verify")
        heads = [
            Head(name, str(UUID(str(uid))), seq, digest, str(day or ""))
            for name, uid, seq, digest, day in databases.rows(url or databases.own_url(), _HEADS)
        ]
    for end in BESIDE[1:]:  # what SQLite leaves beside a file that was asked
        Path(f"{copied}{end}").unlink(missing_ok=True)
    fault = "" if done.returncode == 0 else (done.stderr.strip().splitlines() or ["verify did not end"])[-1]
    return fault, ON_THE_COPY if url else ON_THE_DATABASE, heads


def _photos() -> Iterator[tuple[str, Path]]:
    """Yield the photos; those that came after the database was copied do no harm."""
    folder = Path(settings.MEDIA_ROOT) / "photos"
    for path in sorted(folder.glob("*/*/*.jpg")):
        yield f"{PHOTOS}{path.relative_to(folder)}", path


def secret_files() -> Iterator[tuple[str, Path]]:
    """Yield what is kept beside the database for this account alone: name and file."""
    for kind in ("run", "demo") if connection.vendor != SQLITE else ("",):
        begins = Path(machine.beside(databases.own_url(), settings.BASE_DIR, kind))
        for path in sorted(begins.parent.glob(f"{begins.name}-*")):
            if path.is_file() and path.name not in {f"{begins.name}{end}" for end in BESIDE}:
                yield path.name.removeprefix(f"{begins.name}-"), path


def _named(folder: Path, moment: datetime, fault: bool) -> Path:
    stem, end = f"tarebook-{moment:%Y-%m-%dT%H%M%SZ}", NOT_PROVED if fault else ".zip"
    names = [f"{stem}{end}", *(f"{stem}-{number}{end}" for number in range(2, 100))]
    return next(path for path in (folder / name for name in names) if not path.exists())


def _on_disk(file: Path) -> None:
    """See a file and its name on the disk."""
    for path in (file, file.parent):
        handle = os.open(path, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _put_away(folder: Path, uids: set[str], keep: int | None) -> Iterator[Path]:
    """Remove all but the newest copies of these books."""
    if keep is None:
        return
    for _, path in copies.beside(folder, uids)[:-keep]:
        path.unlink()
        yield path
