"""Columns of lists: figures, masses, days and moments, for the page and for the files."""

from collections.abc import Callable
from datetime import datetime
from decimal import Decimal
from typing import Any, cast

import django_tables2 as tables
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString

from inventory.measure.displays import columned
from inventory.measure.figures import DECIMALS, figure, mass_number
from inventory.output.days import day, when
from inventory.pages import links


class NumberColumn(tables.Column):  # type: ignore[misc]  # django-tables2 has no types
    """Figures, to the right, with one unit (said in the header and in the name in files) and one count of decimals."""

    numeric = True

    def __init__(self, *args: Any, unit: str = "", decimals: int = 0, signed: bool = False, **options: Any) -> None:
        self.unit, self.decimals, self.signed = unit, decimals, signed
        super().__init__(*args, **options)

    def number(self, value: Any) -> Decimal | float | int:
        """Return the figure in the column's unit."""
        return cast("Decimal | float | int", value)

    def render(self, value: Any) -> str:
        number = self.number(value)
        return ("+" if self.signed and number > 0 else "") + figure(number, self.decimals)

    def value(self, value: Any) -> Decimal:
        return round(Decimal(str(self.number(value))), self.decimals)


class MassColumn(NumberColumn):
    """A mass from whole milligrams, in kg, g, lb or oz; `in_words` where a page says it in pounds with ounces."""

    in_words = ""  # the unit in which pages say it, where that has no decimals; files keep `unit`

    def __init__(self, *args: Any, unit: str = "kg", decimals: int | None = None, **options: Any) -> None:
        super().__init__(*args, unit=unit, decimals=DECIMALS[unit] if decimals is None else decimals, **options)

    def number(self, value: Any) -> Decimal:
        return mass_number(value, self.unit, self.decimals)

    def render(self, value: Any) -> str:
        return columned(int(value), self.in_words, signed=self.signed) if self.in_words else super().render(value)


class DayColumn(tables.Column):  # type: ignore[misc]  # django-tables2 has no types
    """A day in the order of who reads it; files have 2026-03-04."""

    def render(self, value: Any, table: Any) -> SafeString:
        return format_html('<time datetime="{}">{}</time>', day(value), day(value, table.access.units))

    def value(self, value: Any) -> str:
        return day(value)


class WhenColumn(tables.Column):  # type: ignore[misc]  # django-tables2 has no types
    """A moment in the workshop's zone, its day in the order of who reads it; files have it with the offset from UTC."""

    def render(self, value: datetime, table: Any) -> SafeString:
        moment = timezone.localtime(value)
        return format_html('<time datetime="{}">{}</time>', moment.isoformat(), when(value, table.access.units))

    def value(self, value: datetime) -> str:
        return timezone.localtime(value).isoformat(timespec="seconds")


def in_book_unit(table: tables.Table, *names: str) -> None:
    """Let the columns of masses that are named have the unit of who reads them: kg, lb, or pounds with ounces."""
    units = table.access.units
    for name in (one for one in names if one in table.columns):
        column = table.columns[name].column
        column.unit, column.decimals = units.axis, DECIMALS[units.axis]
        column.in_words = "" if units.column == units.axis else units.column


def to_page(name: str, number: Callable[[Any], object]) -> Callable[..., str | None]:
    """Return a column's ``linkify``: a page of the workshop by the number of a row, None where there is none."""
    return lambda record, table: links.address(table.access, name, number(record)) or None


def linked(address: str, words: object) -> SafeString:
    """Return words as a link, or alone where there is no such page."""
    return format_html('<a href="{}">{}</a>', address, words) if address else format_html("{}", words)
