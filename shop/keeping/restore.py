"""A copy brought back into an empty place: looked through, put there whole, brought up to date and proved."""

import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings
from django.db.migrations.loader import MigrationLoader

from shop.keeping import copies, databases
from shop.keeping.copies import DATABASE, PHOTOS, SECRETS, Manifest
from shop.keeping.databases import POSTGRES, SQLITE, Unkept
from shop.serving import machine


@dataclass(frozen=True)
class Restored:
    """What was brought back; `fault` is what `verify` says of it, `said` what a person is to know."""

    manifest: Manifest
    said: tuple[str, ...]
    fault: str


def restore(file: Path, url: str, *, witnesses: tuple[str, ...] = ()) -> Restored:
    """Bring a copy back into the empty place of an address. Raises Unkept, and nothing was changed then."""
    manifest = copies.check(file)
    if manifest.database != databases.kind_of(url):
        raise Unkept(f"It is a copy of a database of {_words(manifest.database)}; {url.partition(':')[0]} is another.")
    if not databases.is_empty(url):
        raise Unkept("Something stands there already; a copy is brought back into an empty place only.")
    missing = _missing(manifest)
    _refuse_other_photos(manifest)
    with tempfile.TemporaryDirectory(prefix="tarebook-") as folder:
        copied = Path(folder) / DATABASE
        copies.take_out(file, DATABASE, copied)
        databases.fill(url, copied)
    _bring_photos(file, manifest)
    said = [*_said(manifest), *_newer(file, manifest), *_bring_secrets(file, manifest, url)]
    if missing:
        if (done := databases.manage(url, "migrate", "-v", "0")).returncode:
            raise Unkept(f"It is there, but could not be brought up to date: {_last(done.stderr)}")
        said.append(f"It was made by an older version of Tarebook and was brought up to date ({missing} steps).")
    words = [word for witness in witnesses for word in ("--witness", witness)]
    done = databases.manage(url, "verify", *words)
    said.extend(done.stdout.splitlines())
    return Restored(manifest, tuple(said), "" if done.returncode == 0 else _last(done.stderr))


def _missing(manifest: Manifest) -> int:
    """Return how many migrations the copy lacks; raises Unkept where it has some that this version does not know."""
    known = {f"{app}.{name}" for app, name in MigrationLoader(None).disk_migrations}
    ours = {app for app, _ in MigrationLoader(None).disk_migrations}
    strange = {name for name in manifest.migrations if name.partition(".")[0] in ours} - known
    if strange:
        raise Unkept(f"It was made by a newer version of Tarebook, which has {min(strange)}; restore it with that one.")
    return len(known - set(manifest.migrations))


def _photo_of(name: str) -> Path:
    """Return where a photo goes; raises Unkept for a name that leads elsewhere."""
    folder = Path(settings.MEDIA_ROOT) / PHOTOS
    path = (folder / name.removeprefix(PHOTOS)).resolve()
    if not path.is_relative_to(folder.resolve()):
        raise Unkept(f"It is no copy made by manage.py backup: {name} leads out of the folder of photos.")
    return path


def _refuse_other_photos(manifest: Manifest) -> None:
    """Photos are named by what they show: one that is there already is either the same one or damaged."""
    for name, digest in _of(manifest, PHOTOS):
        if (path := _photo_of(name)).exists() and copies.digest_of(path) != digest:
            raise Unkept(f"{path} is not the photo of that name in the copy; move it away first.")


def _of(manifest: Manifest, begins: str) -> Iterator[tuple[str, str]]:
    return ((name, digest) for name, digest in manifest.files.items() if name.startswith(begins))


def _bring_photos(file: Path, manifest: Manifest) -> None:
    for name, _ in _of(manifest, PHOTOS):
        if not (path := _photo_of(name)).exists():
            path.parent.mkdir(parents=True, exist_ok=True)
            copies.take_out(file, name, path)


def _bring_secrets(file: Path, manifest: Manifest, url: str) -> Iterator[str]:
    """Put secrets beside the database where none stand, and say of each what became of it."""
    begins = machine.beside(url, settings.BASE_DIR, "run")
    for name, _ in _of(manifest, SECRETS):
        path = Path(f"{begins}-{Path(name).name}")
        if path.exists():
            yield f"{path} was there already and was left as it is."
            continue
        path.parent.mkdir(parents=True, exist_ok=True)
        copies.take_out(file, name, path)
        yield f"{path} came with it."
    yield from (f"Not in it: {name}." for name in manifest.left_out)


def _said(manifest: Manifest) -> Iterator[str]:
    yield f"It is the copy of {manifest.made_at}; what was written after that is not in it."
    for head in manifest.books:
        yield f"{head.book} ends in it with line {head.line}{f' of {head.day}' if head.day else ''}."


def _newer(file: Path, manifest: Manifest) -> Iterator[str]:
    """Say where a newer copy of the same books lies beside this one."""
    later = [path for made_at, path in copies.beside(file.parent, manifest.uids) if made_at > manifest.made_at]
    if later:
        yield f"A newer copy lies beside it: {later[-1]}."


def _words(kind: str) -> str:
    return {SQLITE: "SQLite", POSTGRES: "PostgreSQL"}.get(kind, kind)


def _last(said: str) -> str:
    return (said.strip().splitlines() or ["it did not end"])[-1]
