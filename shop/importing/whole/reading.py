"""The rows of a whole book's files, as values for the records they become; references by what a record is called."""

import csv
import io
import json
import zipfile
from collections import defaultdict
from collections.abc import Generator, Mapping
from pathlib import Path
from typing import Any

from django.db import models
from django.db.models import Model

from inventory.models import Entry
from shop.importing.whole.tables import FORMAT, MANIFEST, NAMED, VERSION, AnyField, Table, value_of

LONGEST_CELL = 10_000_000
NOT_OURS = "The file is no whole book as export_book writes it."


class NotABook(Exception):
    """The file is no whole book of ours, or not one that can be read here; the sentence says why."""


def opened(path: Path) -> zipfile.ZipFile:
    """Return the ZIP, opened; raises NotABook."""
    try:
        return zipfile.ZipFile(path)
    except zipfile.BadZipFile:
        raise NotABook(f"{NOT_OURS} It is no ZIP, or it was cut short.") from None
    except OSError as error:
        raise NotABook(f"The file cannot be opened: {error.strerror}.") from None


def manifest(file: zipfile.ZipFile) -> dict[str, Any]:
    """Return what `book.json` says; raises NotABook for another format and for a newer version."""
    try:
        with file.open(MANIFEST) as raw:  # what a file unpacks to is not what it says
            about = json.loads(raw.read(LONGEST_CELL))
        form, version = about["format"], about["version"]
    except (KeyError, TypeError, ValueError, zipfile.BadZipFile):
        raise NotABook(f"{NOT_OURS} {MANIFEST} is missing in it, or cannot be read.") from None
    if form != FORMAT:
        raise NotABook(NOT_OURS)
    if version != VERSION:
        raise NotABook(f"The file has version {version} of the format; this program reads version {VERSION}.")
    return dict(about)


class Keys:
    """The keys, in this database, of records as the file names them."""

    def __init__(self) -> None:
        self._known: dict[type[Model], dict[str, int]] = defaultdict(dict)

    def learn(self, model: type[Model], name: str, key: int) -> None:
        self._known[model][name] = key

    def of(self, model: type[Model], name: str) -> int:
        """Return the key of a record; raises ValueError where the file has none of that name."""
        try:
            return self._known[model][name]
        except KeyError:
            raise ValueError(f"there is no {model._meta.verbose_name} {name} in the file") from None

    def own(self, model: type[Model]) -> Mapping[str, int]:
        return self._known[model]


def rows(file: zipfile.ZipFile, table: Table, keys: Keys, expected: int) -> Generator[tuple[int, dict[str, Any]]]:
    """Yield the line and the values of each row of a table, by the columns of its model; raises NotABook."""
    name = f"{table.name}.csv"
    fields = {field.name: field for field in table.fields}
    csv.field_size_limit(LONGEST_CELL)
    count = 0
    try:
        with file.open(name) as raw:
            reader = csv.reader(io.TextIOWrapper(raw, encoding="utf-8", newline=""), strict=True)
            names = _names(next(reader, []), fields, name)
            for cells in reader:
                count += 1
                if len(cells) != len(names):
                    raise NotABook(f"{name}, line {reader.line_num}: it has {len(cells)} cells, not {len(names)}.")
                pairs = ((fields[column], text) for column, text in zip(names, cells, strict=True))
                yield reader.line_num, dict(_read(field, text, keys, name, reader.line_num) for field, text in pairs)
    except KeyError:
        raise NotABook(f"{NOT_OURS} {name} is missing in it.") from None
    except (UnicodeDecodeError, csv.Error, zipfile.BadZipFile, EOFError) as error:
        raise NotABook(f"{name} cannot be read: {error}.") from None
    if count != expected:
        raise NotABook(f"{name} has {count} rows; book.json says {expected}.")


def _names(names: list[str], fields: Mapping[str, AnyField], file: str) -> list[str]:
    unknown = [name for name in names if name not in fields]
    missing = [name for name, field in fields.items() if name not in names and not _may_lack(field)]
    if unknown or missing or len(set(names)) != len(names):
        said = f"names {', '.join(unknown)}, not known here" if unknown else f"lacks {', '.join(missing) or 'a name'}"
        raise NotABook(f"The first row of {file} {said}.")
    return names


def _may_lack(field: "AnyField") -> bool:
    """Whether an older file may be without a column: it has a value of its own where nothing is said."""
    return field.has_default() or field.null


def _read(field: "AnyField", text: str, keys: Keys, file: str, line: int) -> tuple[str, Any]:
    try:
        if field.primary_key:
            return "id", text
        if isinstance(field, models.ForeignKey):
            return field.attname, _reference(field, text, keys)
        return field.name, value_of(text, field)
    except (ValueError, KeyError) as error:
        raise NotABook(f"{file}, line {line}, {field.name}: {error}.") from None


def _reference(field: "models.ForeignKey[Any, Any]", text: str, keys: Keys) -> Any:
    model = field.related_model
    if text == "" and not field.null:
        raise ValueError("it is empty")
    if text == "":
        return None
    later = len(NAMED[model]) > 1 or model is Entry or field.model is model  # it may not be there yet
    return text if later else keys.of(model, text)
