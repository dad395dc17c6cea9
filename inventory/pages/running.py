"""How the pages of acts run: judge the form, read back where needed, write once, say so on the page it leads to."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID

from django.contrib import messages
from django.forms.boundfield import BoundField
from django.http import HttpResponse
from django.shortcuts import render

from inventory.book.ledger import Act
from inventory.book.refusals import LedgerError, RequestKeyReused
from inventory.gases.cautions import cautions_for
from inventory.models import Entry
from inventory.pages import comeback
from inventory.pages.access import BookRequest
from inventory.pages.forms.act import BookForm, already_said, page, read_back, see, written


@dataclass(frozen=True)
class ActPage:
    """The page of one act. `places` name its cautions; `notes` are sentences above the fields."""

    title: str = ""
    submit: str = "Write it in the book"
    back: str = ""
    notes: Sequence[str] = ()
    places: Sequence[str] = ()
    irrevocable: str = ""


@dataclass(frozen=True)
class Understood:
    """What an act is read back as; `always`: even where every quantity had been echoed.

    `plain`: nothing in it is for a person to decide, so that it is written when it comes from the queue of a phone.

    `files` are fields for files, asked for again there: what was chosen before could not be kept till then.
    """

    rows: Sequence[tuple[str, object]]
    then: str = ""
    always: bool = False
    plain: bool = False
    facts: Sequence[object] = ()
    files: Sequence[BoundField] = ()


def run(
    request: BookRequest,
    form: BookForm,
    shown: ActPage,
    *,
    understood: Callable[[], Understood],
    write: Callable[[], Entry],
    to: Callable[[Entry], tuple[object, ...]],
    said: Callable[[Entry], str] = lambda _: "",
    made: Callable[[Entry], object] | None = None,
    late: Callable[[Entry], str] | None = None,
    beside: Callable[[LedgerError], str | None] = lambda _: None,
    template: str = "inventory/act.html",
    context: Mapping[str, object] | None = None,
) -> HttpResponse:
    """Answer the request of an act; `to` gives the name of the page it leads to and its arguments.

    `said` gives what that page says of the written entry in place of "Written as line 9."; `made` what it has created,
    for a form that was left for it, which is then come back to; `context` is what the template needs besides.
    `understood` and `write` are asked of a valid form alone. Their LedgerError becomes a thing to put right, by the
    field that `beside` names; `understood` may put others on the form itself. `late` is for a page that looks different
    once its form is written, so that a second press cannot be judged by it: it takes what came only now, such as a
    photo, and says what is to be said of it.
    """
    cautions = cautions_for(*shown.places)
    known = already_written(request)
    if known is not None and (late is not None or not form.is_valid()):
        return _come_back(request, made, known, _answered_before(request, form, known, to(known), late))
    if request.method == "POST" and form.is_valid():
        try:
            told = Understood(()) if known is not None else understood()
            if (
                known is None
                and not form.errors
                and form.needs_read_back(always=told.always, plain=told.plain, facts=told.facts)
            ):
                comeback.keep_read_back(request, form.request_key)
                return read_back(
                    request,
                    form,
                    told.rows,
                    then=told.then,
                    cautions=cautions,
                    facts=told.facts,
                    submit=shown.submit,
                    lead=shown.irrevocable,
                    files=told.files,
                )
            entry = None if form.errors else write()
        except RequestKeyReused:
            return sent_before(request, form)
        except LedgerError as error:
            form.refuse(error, beside(error))
        else:
            if entry is not None:
                comeback.written(request, form.request_key)
                name, *args = to(entry)
                there = written(request, form, entry, str(name), *args, said=said(entry))
                return _come_back(request, made, entry, there)
    return page(request, template, form, **{"shown": shown, "cautions": cautions, **(context or {})})


def _come_back(
    request: BookRequest, made: Callable[[Entry], object] | None, entry: Entry, there: HttpResponse
) -> HttpResponse:
    """Lead to the form that was left to write the entry, if one was; else answer as `there` does."""
    left = comeback.back(request, made(entry)) if made is not None and there.status_code == 303 else None
    return left or there


def already_written(request: BookRequest) -> Entry | None:
    """Return the entry that this very form has written before, or None: its second press is not judged by a new day."""
    try:
        key = UUID(request.POST.get("key", ""))
    except ValueError:
        return None
    return Entry.objects.filter(book=request.book, request_key=key, actor=request.access.actor).first()


def _answered_before(
    request: BookRequest, form: BookForm, known: Entry, to: tuple[object, ...], late: Callable[[Entry], str] | None
) -> HttpResponse:
    """Answer the second press of a written form: where the first led to; with `late`, 409 if it differs."""
    if late is None:
        return say_already(request, known, to)
    form.is_valid()
    remark = next((one.text for one in known.remarks.all()), "")
    same = Act(known.request_key, request.access.actor, known.occurred_at, form.sent, known.context, remark)
    if same.digest != known.request_digest:
        return sent_before(request, form)
    return say_already(request, known, to, late(known))


def say_already(request: BookRequest, entry: Entry, to: tuple[object, ...], more: str = "") -> HttpResponse:
    """Answer 303 to where the first press led, and say there that the form was written once, and `more`."""
    messages.info(
        request, f"{already_said(entry, request.access.units)} {more}".strip(), extra_tags=str(entry.request_key)
    )
    name, *args = to
    return see(request, str(name), *args)


def sent_before(request: BookRequest, form: BookForm) -> HttpResponse:
    """Answer 409: the form's key stands in the book with other figures; both are shown."""
    entry = Entry.objects.filter(book=request.book, request_key=form.request_key).first()
    sent = [
        (str(form[name].label), " ".join(values))
        for name, values in form.sent.items()
        if name in form.fields and any(values)
    ]
    return render(request, "409.html", {"entry": entry, "sent": sent}, status=409)
