"""Leaves of a list by key: the rows after or before one that stands in the address, with no offset to count up to."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.core.exceptions import FieldError, ValidationError
from django.core.serializers.json import DjangoJSONEncoder
from django.db.models import F, Model, Q, QuerySet


@dataclass(frozen=True)
class Leaf:
    """The rows of one leaf, the cursors of its ends, and whether there are more either side."""

    records: Sequence[Any]
    first: str = ""
    last: str = ""
    more_before: bool = False
    more_after: bool = False


def ordered(rows: "QuerySet[Any]", term: str, descends: bool, *, backwards: bool) -> "QuerySet[Any]":
    """Order by `term` with what is missing last, then by key; `backwards` turns all of it round."""
    if term in ("", "pk", "id"):
        return rows.order_by("-pk" if descends != backwards else "pk")
    down = descends != backwards
    nulls = {"nulls_first" if backwards else "nulls_last": True}
    first = F(term).desc(**nulls) if down else F(term).asc(**nulls)
    return rows.order_by(first, "-pk" if down else "pk")


def leaf_of(rows: "QuerySet[Any]", term: str, descends: bool, *, after: str, before: str, size: int) -> Leaf:
    """Return the `size` rows that follow the cursor `after` or precede `before`; an unreadable cursor is no cursor."""
    backwards = bool(before)
    try:
        cursor = _unpack(before or after)
        wanted = rows if cursor is None else rows.filter(_beyond(term, cursor, descends != backwards, backwards))
        found = list(ordered(wanted, term, descends, backwards=backwards)[: size + 1])
    except (ValueError, TypeError, ValidationError, FieldError, OverflowError):
        cursor, backwards = None, False
        found = list(ordered(rows, term, descends, backwards=False)[: size + 1])
    more = len(found) > size
    found = found[:size]
    if backwards:
        found.reverse()
    if not found:
        return Leaf([])
    return Leaf(
        found,
        _pack(found[0], term),
        _pack(found[-1], term),
        more_before=more if backwards else cursor is not None,
        more_after=True if backwards else more,
    )


def _beyond(term: str, cursor: tuple[Any, Any], down: bool, backwards: bool) -> Q:
    """Return the condition "comes after the cursor" in the order of `ordered`."""
    value, key = cursor
    side = "lt" if down else "gt"
    if term in ("", "pk", "id"):
        return Q(**{f"pk__{side}": key})
    if value is None:
        same = Q(**{f"{term}__isnull": True, f"pk__{side}": key})
        return same | Q(**{f"{term}__isnull": False}) if backwards else same
    further = Q(**{f"{term}__{side}": value}) | Q(**{term: value, f"pk__{side}": key})
    return further if backwards else further | Q(**{f"{term}__isnull": True})


def _pack(record: Any, term: str) -> str:
    key = record["pk"] if isinstance(record, dict) else record.pk
    value = None if term in ("", "pk", "id") else value_of(record, term)
    return json.dumps([value.pk if isinstance(value, Model) else value, key], cls=_Exact)


def _unpack(text: str) -> tuple[Any, Any] | None:
    if not text:
        return None
    value, key = json.loads(text)
    return value, int(key)


class _Exact(DjangoJSONEncoder):
    """Moments to the microsecond, so that a cursor meets its row again."""

    def default(self, o: Any) -> Any:
        return o.isoformat() if isinstance(o, datetime) else super().default(o)


def value_of(record: Any, term: str) -> Any:
    """Return what a record has under a field's name, through relations too; None where one is missing."""
    for part in term.split("__"):
        if record is None:
            return None
        record = record.get(part) if isinstance(record, dict) else getattr(record, part)
    return record
