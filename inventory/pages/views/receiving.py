"""Pages by which a cylinder comes in: what comes, then the form of just that."""

from collections.abc import Iterator
from dataclasses import dataclass
from urllib.parse import urlencode

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse

from inventory import causes
from inventory.acts import receiving
from inventory.book import weighing
from inventory.book.refusals import Refused
from inventory.causes import GRADES
from inventory.measure.displays import in_book
from inventory.measure.figures import show_mass
from inventory.models import Entry
from inventory.models.access import Access
from inventory.pages import comeback
from inventory.pages.access import BookRequest, writer_page
from inventory.pages.forms.receive import ReceiveForm
from inventory.pages.links import WITH_GAS, WITHOUT_GAS, Link
from inventory.pages.running import ActPage, Understood, run
from inventory.shelf import origins
from inventory.shelf.origins import Way
from inventory.shelf.sentences import paper_sentence

KNOWN_BEFORE = ("refrigerant", "grade", "serial")
"""What a link that leads here fills in."""


@writer_page
def receive(request: BookRequest) -> HttpResponse:
    """Ask what comes; then receive it, with its first content where it has one."""
    sent = request.POST if request.POST.get("kind") else request.GET
    way = Way(sent.get("origin", ""), sent.get("kind", ""))
    if not way.is_offered:
        context = {"groups": list(_groups(request)), "others": bool(request.access.other_books())}
        if request.GET.get("only") in origins.WAYS:
            context["every"] = f"?{urlencode({name: value for name, value in request.GET.items() if name != 'only'})}"
        return render(request, "inventory/receive.html", context, status=422 if request.method == "POST" else 200)
    return _receive(request, way)


@dataclass(frozen=True)
class Group:
    """An origin, and a link for each kind that comes from it."""

    words: str
    links: list[Link]


def _groups(request: BookRequest) -> Iterator[Group]:
    """Yield what may come; ``only`` in the address narrows it: what has gas in it, what comes empty, one origin."""
    only, kept = request.GET.get("only", ""), {k: v for k, v in request.GET.items() if k not in ("origin", "kind")}
    for origin, kinds in origins.WAYS.items():
        if only in (WITH_GAS, WITHOUT_GAS) and (origin == origins.EMPTY) != (only == WITHOUT_GAS):
            continue
        if only in origins.WAYS and origin != only:
            continue
        links = [
            Link(origins.KIND_WORDS[kind].capitalize(), f"?{urlencode({**kept, 'origin': origin, 'kind': kind})}")
            for kind in kinds
        ]
        yield Group(origins.ORIGIN_WORDS[origin].capitalize(), links)


def _number(entry: Entry) -> int:
    """Return the account's number of the cylinder that an entry has brought in."""
    return int(entry.context.removeprefix("cylinder:"))


def _receive(request: BookRequest, way: Way) -> HttpResponse:
    access = request.access
    form = ReceiveForm(request.POST or None, access=access, way=way, initial=_known_before(request))

    def understood() -> Understood:
        _refuse_below_tare(form)
        then = _received_then(form, access)
        return Understood(_received_rows(form, access), then, always=True)

    def write() -> Entry:
        act = form.act(access, remark=form.cleaned_data.get("note", ""))
        receiving.receive_cylinder(request.book, act, form.new(), form.first(), form.weighed)
        return Entry.objects.get(book=request.book, request_key=act.key)

    shown = ActPage(
        way.title,
        "Receive it",
        comeback.way_back(request) or reverse("cylinders", args=[access.slug]),
        notes=[note] if (note := origins.NOTES.get(way.origin, "")) else (),
        places=["receive"],
    )
    kept = {name: value for name, value in request.GET.items() if name not in ("origin", "kind")}
    return run(
        request,
        form,
        shown,
        understood=understood,
        write=write,
        to=lambda entry: ("cylinder", _number(entry)),
        made=_number,
        template="inventory/receive_form.html",
        context={"other": f"?{urlencode(kept)}"},
    )


def _known_before(request: BookRequest) -> dict[str, str]:
    """Return what the link has filled in; a grade that nobody knows is left out."""
    known = {name: request.GET[name] for name in KNOWN_BEFORE if request.GET.get(name)}
    return {name: value for name, value in known.items() if name != "grade" or value in GRADES}


def _refuse_below_tare(form: ReceiveForm) -> None:
    if form.weighed is None:
        return
    net_mg, u_mg = form.weighed.gross_mg - form.weighed.cylinder.tare_mg, weighing.single_u(form.weighed).total_g * 1000
    if net_mg < -2 * u_mg:
        raise Refused(
            f"{show_mass(form.weighed.gross_mg)} gross is {show_mass(-net_mg)} less than the empty mass. "
            "Read the scale again, or look at the stamp."
        )


def _received_rows(form: ReceiveForm, access: Access) -> list[tuple[str, object]]:
    new, first = form.new(), form.first()
    rows: list[tuple[str, object]] = [("Cylinder", f"{new.serial}, {new.kind}")]
    if first is not None:
        origin = f"{form.chosen_partner}" if first.partner else "what stood here before the book"
        rows += [("From", origin), ("What", f"{new.refrigerant} {new.grade}, {causes.CAUSES[first.cause].words}")]
    else:
        rows.append(("What", f"empty, for {new.refrigerant} {new.grade}"))
    if form.way.is_weighed:
        rows.append(("Empty mass", form.cleaned_data["tare"] or _tare_said(form, access)))
    if form.way.is_filled:
        rows += [(str(form.fields[name].label), form.cleaned_data.get(name) or "not known") for name in LIMITS]
    if form.cleaned_data.get("requalify_by"):
        rows.append(("Next test date", access.units.day_said(form.cleaned_data["requalify_by"])))
    if form.weighed is not None:
        rows.append(("Gross", f"{form.cleaned_data['gross'].echo} on {form.weighed.scale}"))
    if first is not None:
        rows.append(("Inside", f"{in_book(form.content_mg(), access.units.mass)}, {causes.BASES[first.basis]}"))
    rows.append(("When", form.cleaned_data.get("occurred_at") or "now"))
    return rows


def _tare_said(form: ReceiveForm, access: Access) -> str:
    """Say how the empty mass is known that nobody has entered."""
    if form.weighed is None:
        return "not known"
    known = form.weighed.cylinder
    doubt = show_mass(2 * known.tare_u_mg, unit=access.units.small_mass)
    return f"{known.tare_source}: {in_book(known.tare_mg, access.units.mass)}, give or take {doubt}"


LIMITS = ("water_capacity", "filling_limit")
NO_LIMIT = (
    "Neither its water capacity nor a filling limit is known: then no page can say how much it may take, and nothing "
    "warns before it is too full. Look for WC or a filling limit on its collar; it can be entered later under Edit."
)
NOT_WEIGHED = "It was not weighed: what the paper says counts, until it stands on a scale."
NO_TARE = (
    "Its empty mass is not known, and it was not weighed: what the paper says counts. Its first weighing settles the "
    "empty mass: gross less what the paper says. Weigh it before gas is drawn from it."
)
BY_PAPER = "What the paper says counts: its empty mass is the weighed gross less that."


def _has_no_limit(form: ReceiveForm) -> bool:
    return form.way.is_filled and all(form.cleaned_data.get(name) is None for name in LIMITS)


def _received_then(form: ReceiveForm, access: Access) -> str:
    new, first = form.new(), form.first()
    held = in_book(form.content_mg(), access.units.mass)
    parts = [f"{new.serial} then holds {held}." if first else f"{new.serial} is empty."]
    if form.lacks_tare:
        parts.append(NO_TARE if form.weighed is None else BY_PAPER)
    elif form.weighed is not None and first is not None:
        u_mg = weighing.single_u(form.weighed).total_g * 1000
        parts.append(paper_sentence(form.content_mg(), u_mg, new.paper_mass_mg, access.units.mass))
    elif form.weighed is None and first is not None and first.basis == origins.PAPER:
        parts.append(NOT_WEIGHED)
    if _has_no_limit(form):
        parts.append(NO_LIMIT)
    return " ".join(part for part in parts if part)
