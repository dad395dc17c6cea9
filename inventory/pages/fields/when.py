"""The field for when something happened."""

import re
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.forms.boundfield import BoundField
from django.utils import timezone
from django.utils.datastructures import MultiValueDict

from inventory.book.ledger import FIRST_YEAR
from inventory.measure.own import METRIC, Units
from inventory.measure.typed import QuantityError
from inventory.measure.typedday import how_written, read_clock, read_day
from inventory.output.days import clock
from inventory.pages.fields.sent import Choice, QuantityBoundField

AHEAD = timedelta(minutes=5)
NOW = "now"  # an answer to a time that is still to come


class WhenWidget(forms.DateTimeInput):
    """The browser's own date and time control; the field reads ``3/4/2026 10:58`` and ``10:58`` (today) too."""

    input_type = "datetime-local"

    def __init__(self) -> None:
        super().__init__(attrs={"autocomplete": "off"})

    def value_from_datadict(self, data: Mapping[str, Any], files: MultiValueDict[str, Any], name: str) -> str:
        return str(data.get(f"{name}_reading") or data.get(name) or "").strip()

    def format_value(self, value: Any) -> str | None:
        if isinstance(value, datetime):
            value = timezone.localtime(value).strftime("%Y-%m-%dT%H:%M")
        return str(value) if value not in (None, "") else None

    def get_context(self, name: str, value: Any, attrs: dict[str, Any] | None) -> dict[str, Any]:
        context = super().get_context(name, value, attrs)
        shown = context["widget"]["value"]
        if shown and not re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d(:\d\d)?", shown):
            context["widget"]["type"] = "text"  # the browser's control would drop what it cannot show
        return context


class WhenField(forms.Field):
    """When something happened, in the workshop's zone; the cleaned value is aware, or None where left empty (now).

    More than five minutes ahead is refused, and what the book does not reach back to. An hour that a change of clocks
    skips is refused, one that it repeats is a question. A day in figures is read in the order of who fills it in.
    """

    def __init__(self, *, optional_words: str = "now unless you say otherwise", **options: Any) -> None:
        self.optional_words = optional_words
        self.units = METRIC
        options.setdefault("required", False)
        super().__init__(widget=WhenWidget(), **options)

    def get_bound_field(self, form: forms.BaseForm, field_name: str) -> BoundField:
        return QuantityBoundField(form, self, field_name)

    def speak(self, units: Units) -> None:
        """Read days in the order of who fills it in, and say times by that person's clock."""
        self.units = units

    def to_python(self, value: Any) -> datetime | None:
        if value in (None, ""):
            return None
        if value == NOW:
            return timezone.now()
        if isinstance(value, datetime):
            return value
        found = _moment(str(value), self.units)
        if found > timezone.now() + AHEAD:
            now = clock(timezone.now(), self.units)
            raise ValidationError(
                f"That time is still to come: it is {now} here. Enter when it happened.",
                code="ahead",
                params={"choices": [Choice(NOW, f"Now, {now}")]},
            )
        return found


def _moment(text: str, units: Units) -> datetime:
    """Return the moment that `text` names in the active zone; raises ``ValidationError`` with a sentence."""
    try:
        found = datetime.fromisoformat(_in_plain_form(text.strip(), units.days))
    except QuantityError as error:
        raise ValidationError(error.sentence, code="unread") from None
    except ValueError:
        time = units.clock_said(datetime(2026, 3, 14, 14, 58))  # noqa: DTZ001 - a time of day alone
        written = f"Write {how_written(units.days, f' {time}')}, or {time} for today."
        raise ValidationError(f"{text} is not a time that can be read. {written}", code="unread") from None
    if found.year < FIRST_YEAR:
        raise ValidationError(f"The year {found.year} is too long ago. Enter when it happened.", code="ago")
    if found.tzinfo is not None:
        return found
    zone = timezone.get_current_timezone()
    first, second = found.replace(tzinfo=zone, fold=0), found.replace(tzinfo=zone, fold=1)
    if first.utcoffset() == second.utcoffset():
        return first
    if first.astimezone(UTC).astimezone(zone).replace(tzinfo=None) != found:
        raise ValidationError(f"{text} did not happen here: the clocks went forward past it.", code="unread")
    choices = [Choice(one.isoformat(), f"{units.clock_said(one)} {one.tzname()}") for one in (first, second)]
    raise ValidationError(
        f"{text} happened twice: the clocks went back. Which one was it?", code="doubt", params={"choices": choices}
    )


def _in_plain_form(text: str, order: str) -> str:
    """Return "3/4/2026 9:58" as 2026-03-04T09:58; what is no day with a time stays as it is."""
    if clock := read_clock(text):
        return f"{timezone.localdate()}T{clock}"
    if re.match(r"\d{4}-\d\d-\d\dT", text):
        return text
    parted = re.fullmatch(r"(.+?)[T, ] *(\d{1,2}:\d\d.*?)([+-]\d\d:\d\d)?", text)
    clock = read_clock(parted[2]) if parted else ""
    return f"{read_day(parted[1], order)}T{clock}{parted[3] or ''}" if parted and clock else text
