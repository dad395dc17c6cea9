"""The form of an act: one key, a read-back before writing where it is needed, what was typed is kept.

A view makes the form, says what it understood and how it is written, and hands all to `inventory.pages.running.run`. A
POST writes once, answers 303, and the person lands on a page that says so. A page of its own extends ``base.html`` and
says ``{% include "_form.html" with form=form submit="Write it in the book" %}``.

**Key.** The server makes it on the first GET. `BookForm.act` builds the `ledger.Act` with it, so the same form pressed
twice is one entry; the request digest is taken over all that was sent (`sent`), not over what was computed from it.

**Read back.** Each quantity's echo carries a hidden ``seen``. `needs_read_back` is false only if every quantity that
was sent had been echoed exactly so, or if the person has just pressed the button of the read-back page for the same
values. With the script a press that comes before the echo waits for it, says it beside the button and asks for another
press (``quantity.js``). A form that comes back, to be changed or put right, carries no ``seen``: sent again it is read
back. With ``always=True`` (to air, unexplained, away; reversals; suspect; receiving; closing; issuing) the page comes
anyhow.
``facts`` are things computed from the book that the page shows: if they change meanwhile it is shown again.

**Pressed.** A form that could not be sent when it was pressed is sent later by the script, with that time as its when
and as ``pressed_at``. What was sent with no time and comes again so is the same request: `sent` leaves such a time out.
It says ``queued``: no echo could be fetched then, so what the act finds ``plain`` is written without a read-back.

**Not sent yet.** "Go back and change" and "One more reading" send the form without judging it: `is_valid` is false and
there are no errors, so the view falls through to showing the page with what was typed (status 200).
"""

import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID, uuid4

from django import forms
from django.contrib import messages
from django.forms.boundfield import BoundField
from django.forms.utils import ErrorDict
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, QueryDict
from django.shortcuts import render
from django.urls import NoReverseMatch, reverse
from django.utils import timezone

from inventory.book.ledger import Act
from inventory.measure.own import METRIC, Units
from inventory.measure.spoken import in_own_units
from inventory.models import Entry
from inventory.models.access import Access
from inventory.output.days import clock
from inventory.pages.comeback import GO
from inventory.pages.fields.quantity import PressureField, QuantityField, canonical
from inventory.pages.fields.readings import ReadingsField
from inventory.pages.fields.scale import begin_as_scale_shows
from inventory.pages.fields.when import WhenField

PRESSED, QUEUED = "pressed_at", "queued"
THEN, THEN_TO = "then", "then_to"  # where the person goes on once it is written
MACHINERY = ("csrfmiddlewaretoken", "key", "seen", "read_back", "change", GO, PRESSED, QUEUED, THEN, THEN_TO)
LOST_KEY = (
    "The page had lost the number that keeps it from counting twice. It has a new one: look at it and press again."
)


class PlainForm(forms.Form):
    """A form without a key, for settings and other things that are not acts of the book."""

    def __init__(self, *args: Any, access: Access | None = None, **options: Any) -> None:
        self.access = access
        super().__init__(*args, **options)
        for field in self.fields.values():
            if isinstance(field, QuantityField):
                field.sent_before = self.is_bound
                field.echo_url = (field.echo_url or echo_url(access)) if field.use_echo else field.echo_url
            say_it_plainly(field)
            if access is not None and callable(speak := getattr(field, "speak", None)):
                speak(self.units)
            known = pressure_knowledge(field)
            if known is not None and access is not None:
                known.setdefault("atmosphere_pa", access.atmosphere_pa)
                known.setdefault("air", access.air)
                known["reader"] = access.units
        if access is not None:
            begin_as_scale_shows(self, access.units)
        _no_browser_judging(self.fields.values())

    @property
    def units(self) -> Units:
        """The units of who fills it in."""
        return self.access.units if self.access else METRIC

    def refuse(self, error: Exception, name: str | None = None) -> None:
        """Say why an act was refused, in the units of who fills it in, beside the field `name` or above all."""
        self.add_error(name, self.spoken(str(error)))

    def spoken(self, sentence: str) -> str:
        """Return a sentence in grams, bar, C, litres and ISO days in the units of who fills it in."""
        return in_own_units(sentence, self.units)

    @property
    def error_count(self) -> int:
        """How many things are to be put right."""
        return sum(len(errors) for errors in self.errors.values())

    @property
    def status(self) -> int:
        """The status of a page that shows this form: 422 where something is to be put right."""
        return 422 if self.is_bound and self.errors else 200

    @property
    def reads_gauges(self) -> bool:
        """Whether a pressure stands in it that counts from the air around the workshop."""
        known = [one for field in self.fields.values() if (one := pressure_knowledge(field)) is not None]
        return any(one.get("default_reference") != "absolute" for one in known)

    @property
    def asks_for_more(self) -> bool:
        """Whether the form was sent only to get one more row or to be changed, not to be judged."""
        return self.is_bound and any(name in ("change", GO) or name.endswith("_more") for name in self.data)

    def full_clean(self) -> None:
        if self.asks_for_more:
            self._errors = ErrorDict()
            self.cleaned_data: dict[str, Any] = {}
            return
        super().full_clean()

    def is_valid(self) -> bool:
        return not self.asks_for_more and super().is_valid()


class BookForm(PlainForm):
    """The form of an act that writes in the book: see the head of this module."""

    key = forms.UUIDField(widget=forms.HiddenInput, required=False)
    pressed_at = forms.CharField(widget=forms.HiddenInput, required=False)
    occurred_at = WhenField(label="When")

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.initial.setdefault("key", uuid4())
        self._lost_key = False
        if self.is_bound and not _is_uuid(str(self.data.get(self.add_prefix("key"), ""))):
            self._lost_key = True
            self.data = _with(self.data, self.add_prefix("key"), str(uuid4()))
        if "occurred_at" in self.fields and not self.field_order:
            self.order_fields([name for name in self.fields if name != "occurred_at"])

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if self._lost_key:
            self.add_error(None, LOST_KEY)
        return cleaned

    @property
    def request_key(self) -> UUID:
        """The key of this request; only of a form that is valid."""
        key: UUID = self.cleaned_data["key"]
        return key

    @property
    def occurred(self) -> datetime:
        """When it happened: as entered, else now."""
        return self.cleaned_data.get("occurred_at") or timezone.now()

    @property
    def sent(self) -> dict[str, list[str]]:
        """All that was sent, as received, without the machinery: what the request digest is taken over."""
        return sent_values(self.data)

    def left_over(self, name: str) -> str:
        """Return what was typed in a field that the form has no more, since the book has gone on; else empty."""
        gone = self.is_bound and name not in self.fields
        return str(self.data.get(self.add_prefix(name)) or "").strip() if gone else ""

    def act(self, access: Access, *, context: str = "", remark: str = "", **more: str) -> Act:
        """Return the `ledger.Act` of this request: its key, the person's handle, the time and all that was sent."""
        return Act(
            key=self.request_key,
            actor=access.actor,
            occurred_at=self.occurred,
            content={**self.sent, **more},
            context=context,
            remark=remark,
        )

    def quantities(self) -> dict[str, str]:
        """Return the canonical value of every quantity that was sent, by the name of its input."""
        return {
            self.add_prefix(name): canonical(self.cleaned_data[name])
            for name, field in self.fields.items()
            if isinstance(field, QuantityField) and self.cleaned_data.get(name) is not None
        }

    def signature(self, facts: Iterable[object] = ()) -> str:
        """Return a digest of what was sent, as it was read, and of `facts` from the book that are shown with it."""
        whole = [sorted(self.sent.items()), sorted(self.quantities().items()), [str(fact) for fact in facts]]
        return hashlib.sha256(json.dumps(whole).encode()).hexdigest()

    def needs_read_back(self, *, always: bool = False, plain: bool = False, facts: Iterable[object] = ()) -> bool:
        """Whether what was understood has still to be shown before it is written; only of a form that is valid.

        `plain`: there is nothing in it for a person to decide, should it have been pressed while the net was away.
        """
        if self.data.get("read_back") == self.signature(facts):
            return False
        if always:
            return True
        if plain and self.data.get(QUEUED):
            return False
        seen = set(self.data.getlist("seen") if isinstance(self.data, QueryDict) else self.data.get("seen", ()))
        return any(f"{name}={value}" not in seen for name, value in self.quantities().items())


def sent_values(data: Mapping[str, Any]) -> dict[str, list[str]]:
    """Return names and values of a form as received, without the machinery and the time that the script has put in."""
    lists = data.lists() if isinstance(data, QueryDict) else ((name, [str(value)]) for name, value in data.items())
    found = {name: list(values) for name, values in lists if name not in MACHINERY}
    if data.get(PRESSED) and found.get("occurred_at") == [data[PRESSED]]:
        found["occurred_at"] = [""]
    return found


def _kept(form: BookForm) -> list[tuple[str, str]]:
    """Return what the page that reads back carries along: all that was sent, with the time at which it was pressed."""
    kept = {
        **form.sent,
        **{name: [form.data[name]] for name in ("occurred_at", PRESSED, THEN, THEN_TO) if form.data.get(name)},
    }
    return [(name, value) for name, values in kept.items() for value in values]


def read_back(
    request: HttpRequest,
    form: BookForm,
    rows: Sequence[tuple[str, object]],
    *,
    then: str = "",
    cautions: Iterable[object] = (),
    facts: Iterable[object] = (),
    submit: str = "Write it in the book",
    lead: str = "",
    files: Sequence[BoundField] = (),
) -> HttpResponse:
    """Answer with what was understood, row by row, and the button that writes it; nothing is written yet.

    `files` are fields for files, asked for here: what was chosen before could not be kept till then.
    """
    context = {
        "lead": lead,
        "rows": [(name, getattr(value, "echo", value)) for name, value in rows],
        "then": then,
        "cautions": list(cautions),
        "submit": submit,
        "files": files,
        "kept": _kept(form),
        "key": form.request_key,
        "signature": form.signature(facts),
    }
    return render(request, "_read_back.html", context)


def written(request: HttpRequest, form: BookForm, entry: Entry, to: str, *args: object, said: str = "") -> HttpResponse:
    """Answer 303 to the page `to` (a name below the workshop) and say there that `entry` stands in the book.

    A form that was sent before says so: "already written at 10:58, once".
    """
    words = said or f"Written as line {entry.seq}."
    if entry.recorded_at < timezone.now() - ALREADY and entry.request_key == form.request_key:
        words = already_said(entry, form.units)
    messages.info(request, words)
    return see(request, to, *args)


ALREADY = timedelta(seconds=3)


def already_said(entry: Entry, units: Units) -> str:
    """Return what the second press of a form says of the entry that the first has written."""
    return f"Already written at {clock(entry.recorded_at, units)}, once, as line {entry.seq}."


def see(request: Any, to: str, *args: object) -> HttpResponse:
    """Answer 303 to the page `to`, a name below the workshop of the request."""
    return HttpResponseRedirect(reverse(to, args=[request.access.slug, *args]), status=303)


def page(request: HttpRequest, template: str, form: PlainForm, **context: object) -> HttpResponse:
    """Answer with a page that shows `form`: 422 where something is to be put right, else 200."""
    return render(request, template, {"form": form, **context}, status=form.status)


def echo_url(access: Access | None) -> str:
    """Return the address that says how a quantity was read; empty where there is no workshop."""
    if access is None:
        return ""
    try:
        return reverse("echo-mass", args=[access.slug])
    except NoReverseMatch:
        return ""


def pressure_knowledge(field: forms.Field) -> dict[str, Any] | None:
    """Return what is known to a field's reader of pressures, to be added to; None where it reads none."""
    if isinstance(field, PressureField):
        return field.known
    return field.pressure.known if isinstance(field, ReadingsField) else None


PLAIN_WORDS = {
    "invalid_choice": "That is not one of the choices here. Choose one of them.",
    "invalid_list": "Choose from the list.",
    "invalid": "That cannot be read here. Check it and write it again.",
    "missing": "No file came. Choose it again.",
    "empty": "The file is empty. Choose another.",
    "invalid_image": "That file is not a picture that can be read. Choose another.",
}


def say_it_plainly(field: forms.Field) -> None:
    """Give a field our own sentences where the form has set none."""
    standard = _standard_words(type(field))
    choice = isinstance(field, forms.ChoiceField)
    name = str(field.label or "this")
    name = name if name[:2].isupper() else name[:1].lower() + name[1:]
    ours = {**PLAIN_WORDS, "required": f"Choose: {name}." if choice else f"Enter: {name}."}
    if isinstance(field, (forms.IntegerField, forms.FloatField)):
        ours["invalid"] = "That is not a number that can be read here. Write figures alone."
    for code, words in ours.items():
        if code in standard and field.error_messages.get(code) == standard[code]:
            field.error_messages[code] = words


def _standard_words(kind: type[forms.Field]) -> dict[str, object]:
    found: dict[str, object] = {}
    for one in reversed(kind.__mro__):
        found.update(getattr(one, "default_error_messages", {}))
    return found


def _no_browser_judging(fields: Iterable[forms.Field]) -> None:
    """Take off what the browser would cut or judge by: length limits; texts are taken as typed and judged here."""
    for field in fields:
        if isinstance(field, forms.CharField):
            field.widget.attrs.pop("maxlength", None)
            field.widget.attrs.pop("minlength", None)


def _with(data: Mapping[str, Any], name: str, value: str) -> Mapping[str, Any]:
    changed: dict[str, Any] | QueryDict = data.copy() if isinstance(data, QueryDict) else dict(data)
    changed[name] = value
    return changed


def _is_uuid(text: str) -> bool:
    try:
        UUID(text)
    except ValueError:
        return False
    return True
