"""Filters of lists: chosen in the query string, said in words, taken away by an address."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any, cast
from urllib.parse import urlencode

from django import forms
from django.http import HttpRequest

from inventory.pages.access import BookRequest
from inventory.pages.fields.day import DayField

ALL = ("", "all")


def same(values: Iterable[str]) -> list[tuple[str, str]]:
    """Return choices that are called what they are, after "all"."""
    return [ALL, *((value, value) for value in values)]


@dataclass(frozen=True)
class Said:
    """One filter in force, in words, and the address without it."""

    words: str
    remove: str


class FilterForm(forms.Form):
    """A filter on GET. `narrow` applies it; `said` puts what is in force into words. No field is required."""

    def __init__(self, request: BookRequest) -> None:
        self.request = request
        given = any(name in request.GET for name in self.base_fields)
        super().__init__(request.GET if given else None, auto_id="filter_%s")
        for one in self.fields.values():
            one.required = False
            one.widget.is_required = False
            if isinstance(one, DayField):
                one.speak(request.access.units)

    def narrow(self, rows: Any) -> Any:
        """Return `rows` narrowed by what was chosen. Overridden; use `chosen`."""
        return rows

    @property
    def chosen(self) -> dict[str, Any]:
        """The values in force by field name."""
        if not self.is_bound:
            return {}
        self.is_valid()
        return {name: value for name, value in self.cleaned_data.items() if value not in (None, "", [], False)}

    @property
    def said(self) -> list[Said]:
        """What is in force, each with the address that takes it away."""
        return [
            Said(f"{self[name].label.lower()} {self.words_of(name, value)}", self._without(name))
            for name, value in self.chosen.items()
        ]

    def words_of(self, name: str, value: Any) -> str:
        """Return how the value of a filter is said."""
        one = self.fields[name]
        if isinstance(one, forms.BooleanField):
            return ""
        if isinstance(value, date):
            return self.request.access.units.day_said(value)
        if isinstance(one, forms.ChoiceField):
            return str(dict(_flat(cast("Iterable[Any]", one.choices))).get(str(value), value))
        return str(value)

    def _without(self, name: str) -> str:
        return address_with(self.request, **{name: None, "after": None, "before": None})


def _flat(choices: Iterable[Any]) -> Iterator[tuple[str, str]]:
    for value, words in choices:
        if isinstance(words, (list, tuple)):
            yield from _flat(words)
        else:
            yield str(value), str(words)


def address_with(request: HttpRequest, **changes: str | None) -> str:
    """Return the address of this page with names of the query string changed or (None) taken away."""
    query = request.GET.copy()
    query.pop("format", None)
    for name, value in changes.items():
        if value is None:
            query.pop(name, None)
        else:
            query[name] = value
    said = urlencode([(name, one) for name, values in query.lists() for one in values])
    return f"{request.path}?{said}" if said else request.path
