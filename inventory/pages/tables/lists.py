"""The lists of the inventory floor: columns and filters of cylinders, lines and partners."""

from collections.abc import Mapping
from typing import Any, ClassVar

import django_tables2 as tables
from django import forms
from django.db.models import Q
from django.http import HttpRequest
from django.utils.functional import cached_property
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from inventory.causes import CAUSES, GRADES
from inventory.measure.quantities import show_mass
from inventory.models import Account, Book, Cylinder, Entry, Holding, Movement, Partner, Photo
from inventory.models.access import Access
from inventory.models.likeness import written_in
from inventory.pages import links
from inventory.pages.access import BookRequest
from inventory.pages.forms.parts import DayField
from inventory.pages.tables.columns import DayColumn, MassColumn, NumberColumn, WhenColumn
from inventory.pages.tables.filters import FilterForm
from inventory.pages.tables.leaves import Leaf
from inventory.pages.tables.table import BookTable
from inventory.shelf import queries
from inventory.shelf.photos import SHOWN
from inventory.shelf.queries import AccountLine, Wanted

ALL = ("", "all")


def _same(values: Any) -> list[tuple[str, str]]:
    return [ALL, *((value, value) for value in values)]


# --- cylinders ------------------------------------------------------------------------------------------------


class CylinderFilter(FilterForm):
    """Which cylinders are shown; without a choice those that are done with are left out."""

    kind = forms.ChoiceField(label="Kind", choices=_same(Cylinder.KINDS))
    refrigerant = forms.ChoiceField(label="Refrigerant")
    grade = forms.ChoiceField(label="Grade", choices=_same(GRADES))
    state = forms.ChoiceField(
        label="State", choices=[("", "all but done with"), *((one, one) for one in queries.STATE_WORDS), ("any", "any")]
    )
    place = forms.ChoiceField(label="Place")
    text = forms.CharField(label="Text", max_length=60)

    def __init__(self, request: BookRequest) -> None:
        super().__init__(request)
        own = Cylinder.objects.filter(account__book=request.book)
        codes = own.order_by("refrigerant").values_list("refrigerant", flat=True).distinct()
        places = own.exclude(place="").order_by("place").values_list("place", flat=True).distinct()
        _offer(self, "refrigerant", _same(codes))
        _offer(self, "place", _same(places))

    def narrow(self, rows: Any) -> Any:
        chosen = self.chosen
        state = chosen.get("state", "")
        if not state:
            rows = rows.exclude(word="done with")
        elif state != "any":
            rows = rows.filter(word=state)
        for name, field in (("kind", "kind"), ("refrigerant", "code"), ("grade", "in_grade"), ("place", "place")):
            if name in chosen:
                rows = rows.filter(**{field: chosen[name]})
        if "text" in chosen:
            said = chosen["text"]
            rows = rows.filter(written_in("likeness", said) | Q(label__iexact=said))
        return rows


def _offer(form: forms.Form, name: str, choices: Any) -> None:
    field = form.fields[name]
    assert isinstance(field, forms.ChoiceField)  # noqa: S101 - for the type
    field.choices = choices


class LevelColumn(tables.Column):  # type: ignore[misc]  # django-tables2 has no types
    """The level against the limit, drawn small and in words; files have the percentage."""

    def __init__(self, **options: Any) -> None:
        super().__init__(empty_values=(), orderable=False, **options)

    def render(self, record: Any) -> SafeString | str:
        share = level_share(record)
        if share is None:
            return "no filling limit known"
        width = round(min(share, 1.0) * 80, 1)
        return format_html(
            '<svg class="drawing level" width="84" height="14" viewBox="0 0 84 14" aria-hidden="true">'
            '<rect x="1" y="1" width="80" height="12" class="d-axis"/>'
            '<rect x="1" y="1" width="{}" height="12" class="d-flow"/>'
            '<line x1="81" y1="0" x2="81" y2="14" class="d-heavy"/></svg> {} %',
            width,
            f"{share * 100:.0f}",
        )

    def value(self, record: Any) -> int | None:
        share = level_share(record)
        return None if share is None else round(share * 100)


def level_share(record: Any) -> float | None:
    """Return what a cylinder holds as a share of its limit; None where no limit is known."""
    return None if not record.limit_mg else int(record.held_mg) / float(record.limit_mg)


class CylinderTable(BookTable):
    """Cylinders with what they hold."""

    nouns = ("cylinder", "cylinders")
    serial = tables.Column("Number on it")
    word = tables.Column("State")
    code = tables.Column("Refrigerant")
    in_grade = tables.Column("Grade")
    held = MassColumn("Held", accessor="held_mg", order_by="held_mg")
    level = LevelColumn(verbose_name="Of its limit")
    limit = MassColumn("Limit", accessor="limit_mg", order_by="limit_mg", default="not known")
    kind = tables.Column("Kind")
    place = tables.Column("Place")
    last_weighed_at = DayColumn(verbose_name="Last weighed", default="never")

    class Meta:
        order_by = "serial"

    def __init__(self, *args: Any, access: Access, **options: Any) -> None:
        self.access = access
        unit = "lb" if access.mass_unit == "lb" else "kg"
        columns = [
            ("held", MassColumn("Held", unit=unit, accessor="held_mg", order_by="held_mg")),
            ("limit", MassColumn("Limit", unit=unit, accessor="limit_mg", order_by="limit_mg", default="not known")),
        ]
        super().__init__(*args, extra_columns=columns, **options)

    def render_serial(self, value: str, record: Cylinder) -> SafeString:
        return _link(links.address(self.access, "cylinder", record.account.number), value)

    def value_serial(self, value: Any) -> str:
        return str(value)

    def render_place(self, value: str) -> str:
        return value or "not entered"


def _link(address: str, words: object) -> SafeString:
    return format_html('<a href="{}">{}</a>', address, words) if address else format_html("{}", words)


# --- lines of the book ----------------------------------------------------------------------------------------

KIND_WORDS = {
    Entry.POST: "moved",
    Entry.WEIGH: "weighed",
    Entry.REVERSE: "reversals",
    Entry.CLOSE: "closings",
    Entry.SEAL: "seals",
}


class LinesFilter(FilterForm):
    """Which lines of the book are shown. ``cause`` may stand several times in the address."""

    cause = forms.ChoiceField(label="Cause", choices=[ALL, *((one.name, one.words) for one in CAUSES.values())])
    refrigerant = forms.ChoiceField(label="Refrigerant")
    grade = forms.ChoiceField(label="Grade", choices=_same(GRADES))
    account = forms.IntegerField(label="Account number", widget=forms.TextInput(attrs={"inputmode": "numeric"}))
    kind = forms.ChoiceField(label="What was done", choices=[ALL, *KIND_WORDS.items()])
    late = forms.BooleanField(label="written late")
    reversed = forms.BooleanField(label="reversed, or a reversal")

    def __init__(self, request: BookRequest) -> None:
        super().__init__(request)
        codes = Holding.objects.filter(account__book=request.book).order_by("refrigerant")
        _offer(self, "refrigerant", _same(codes.values_list("refrigerant", flat=True).distinct()))
        self.book = request.book

    @cached_property
    def account_chosen(self) -> Account | None:
        """The account whose lines are wanted; None where none, or none of this book, was named."""
        number = self.chosen.get("account")
        return Account.objects.filter(book=self.book, number=number).first() if number else None

    @property
    def causes(self) -> list[str]:
        """The causes chosen."""
        return [name for name in self.request.GET.getlist("cause") if name in CAUSES]

    def wanted(self) -> Wanted:
        """Return the filter as the queries take it."""
        chosen = self.chosen
        return Wanted(
            causes=self.causes,
            refrigerant=chosen.get("refrigerant", ""),
            grade=chosen.get("grade", ""),
            since=chosen.get("from"),
            until=chosen.get("to"),
            account=self.account_chosen,
            late=bool(chosen.get("late")),
            reversed=bool(chosen.get("reversed")),
            kind=chosen.get("kind", ""),
        )

    def words_of(self, name: str, value: Any) -> str:
        if name == "cause":
            return ", ".join(CAUSES[one].words for one in self.causes)
        if name == "kind":
            return KIND_WORDS[value]
        if name == "account":
            found = self.account_chosen
            return f"{value}, {found}" if found else f"{value}, which is not in this book"
        return super().words_of(name, value)


# Two fields whose names are words of the language.
LinesFilter.base_fields["from"] = DayField(label="From")
LinesFilter.base_fields["to"] = DayField(label="To")


class EntryTable(BookTable):
    """Lines of the book, newest first: time in the margin, one row a line."""

    nouns = ("line", "lines")
    margin = True
    occurred_at = WhenColumn(verbose_name="When", orderable=False)
    seq = NumberColumn("Line", initial_sort_descending=True)
    what = tables.Column("What", empty_values=(), orderable=False)
    marks = tables.Column("State", empty_values=(), orderable=False)
    actor = tables.Column("By", orderable=False)

    class Meta:
        order_by = "-seq"
        row_attrs: ClassVar = {"class": lambda record: "reversed" if reversed_by(record) else ""}

    def __init__(self, *args: Any, access: Access, **options: Any) -> None:
        self.access = access
        super().__init__(*args, **options)

    @property
    def total(self) -> int:
        """How many lines there are; of the whole book the last number says it, as numbers have no gaps."""
        if self.filter is not None and not self.filter.chosen:
            return int(self.access.book.head_seq)
        return super().total

    @cached_property
    def names(self) -> Mapping[str, str]:
        """The names of who wrote what is shown."""
        return queries.names_of(entry.actor for entry in self.leaf().records)

    def render_seq(self, value: int) -> SafeString:
        return _link(links.address(self.access, "entry", value), f"line {value}")

    def render_what(self, record: Entry) -> SafeString:
        return format_html_join(SafeString("<br>"), "{}", ((words,) for words in sentences(record, self.access)))

    def render_marks(self, record: Entry) -> str:
        return marks_of(record, self.access.book)

    def render_actor(self, value: str) -> str:
        return self.names.get(value, value)


def reversed_by(entry: Entry) -> Entry | None:
    """Return the entry that reversed this one, or None."""
    return getattr(entry, "reversal", None)


def marks_of(entry: Entry, book: Book) -> str:
    """Return the words for a line's state: written, late, reversed, in a closed year."""
    words = []
    if (answer := reversed_by(entry)) is not None:
        words.append(f"reversed by line {answer.seq}")
    if entry.kind == Entry.REVERSE and entry.reverses is not None:
        words.append(f"reverses line {entry.reverses.seq}")
    if entry.is_late:
        words.append("late")
    if book.closed_through is not None and entry.booked_on <= book.closed_through:
        words.append("in a closed year")
    return ", ".join(words) or "written"


def sentences(entry: Entry, access: Access, most: int = 4) -> list[str]:
    """Return what a line did, a sentence for each movement; weighings where nothing moved."""
    moved = sorted(entry.movements.all(), key=lambda movement: movement.line)
    said = [sentence(movement, access.mass_unit) for movement in moved]
    if not said:
        read = sorted(entry.weighings.all(), key=lambda weighing: weighing.line)
        said = [f"{one.account} weighed, {one.said} gross: agrees" for one in read]
    if entry.kind == Entry.CLOSE:
        said.append(f"Closed through {entry.context.removeprefix('closed:')}")
    if entry.kind == Entry.SEAL:
        said.append(seal_sentence(entry, access))
    return said if len(said) <= most else [*said[:most], f"and {len(said) - most} more"]


def seal_sentence(entry: Entry, access: Access) -> str:
    """Return what a line seals that is kept beside the book, in words."""
    photo: Photo | None = getattr(entry, "photo", None)
    place, _ = links.of_context(access, entry.context)
    if photo is not None:
        return f"Seals a photo of {SHOWN[photo.shows]}, for {place}"
    return f"Seals {entry.context.replace(':', ' ') or 'what is kept beside the book'}"


def sentence(movement: Movement, unit: str) -> str:
    """Return one movement in words: its cause, from, to and mass."""
    words = CAUSES[movement.cause].words
    words = words[0].upper() + words[1:]
    gas = f"{movement.refrigerant} {movement.grade}"
    return f"{words}: {movement.source} to {movement.target}, {_mass(movement.mass_mg, unit)} {gas}"


def _mass(mass_mg: int, unit: str) -> str:
    return show_mass(int(mass_mg), unit="lb" if unit == "lb" else "kg")


class MovementTable(BookTable):
    """Movements, a row each: what the files of a list of lines have."""

    nouns = ("movement", "movements")
    line = tables.Column("Line", accessor="entry__seq", order_by="entry__seq")
    part = tables.Column("Part", accessor="line", orderable=False)
    kind = tables.Column("Kind", accessor="entry__kind", orderable=False)
    occurred_at = WhenColumn(accessor="entry__occurred_at", orderable=False)
    recorded_at = WhenColumn(accessor="entry__recorded_at", orderable=False)
    booked_on = DayColumn(orderable=False)
    cause = tables.Column(orderable=False)
    basis = tables.Column(orderable=False)
    from_kind = tables.Column(accessor="source__kind", orderable=False)
    from_name = tables.Column(accessor="source", orderable=False)
    to_kind = tables.Column(accessor="target__kind", orderable=False)
    to_name = tables.Column(accessor="target", orderable=False)
    refrigerant = tables.Column(orderable=False)
    grade = tables.Column(orderable=False)
    mass = NumberColumn(accessor="mass_mg", unit="mg", orderable=False)
    standard_uncertainty = NumberColumn(accessor="u_mg", unit="mg", orderable=False)
    reversal = tables.Column(empty_values=(), orderable=False)
    late = tables.Column(empty_values=(), accessor="entry__is_late", orderable=False)
    reversed = tables.Column(empty_values=(), accessor="pk", orderable=False)
    person = tables.Column(accessor="entry__actor", orderable=False)

    class Meta:
        order_by = "-line"

    def value_reversal(self, value: bool) -> str:
        return "reversal" if value else ""

    def value_late(self, value: bool) -> str:
        return "late" if value else ""

    def value_reversed(self, record: Movement) -> str:
        return "reversed" if reversed_by(record.entry) else ""


# --- lines of one account -------------------------------------------------------------------------------------


class AccountLines(BookTable):
    """The lines of one account, newest first, read as the union of its two limited legs."""

    nouns = ("line", "lines")
    margin = True
    page_size = 25
    may_export = False
    occurred_at = WhenColumn(verbose_name="When", accessor="entry__occurred_at", orderable=False)
    what = tables.Column("What", empty_values=(), orderable=False)
    change = MassColumn("Change", accessor="gained_mg", signed=True, orderable=False)
    held = MassColumn("Held", accessor="held_mg", orderable=False)

    class Meta:
        order_by = "-pk"
        row_attrs: ClassVar = {"class": lambda record: "reversed" if reversed_by(record.entry) else ""}

    def __init__(self, account: Account, *, request: BookRequest, **options: Any) -> None:
        self.account, self.access = account, request.access
        rows = Movement.objects.none()
        unit = "lb" if self.access.mass_unit == "lb" else "kg"
        columns = [
            ("change", MassColumn("Change", unit=unit, accessor="gained_mg", signed=True, orderable=False)),
            ("held", MassColumn("Held", unit=unit, accessor="held_mg", orderable=False)),
        ]
        stock = account.kind in ("cylinder", "rig")
        exclude = () if stock else ("held",)
        super().__init__(
            rows,
            request=request,
            html_id="lines",
            counted=False,
            note=f"Lines of {account}, {'held after each, ' if stock else ''}newest first",
            extra_columns=[pair for pair in columns if pair[0] not in exclude],
            exclude=exclude,
            **options,
        )

    def leaf(self) -> Leaf:
        if self._leaf is None:
            self._leaf = self._read(self.asked)
        return self._leaf

    def _read(self, request: HttpRequest) -> Leaf:
        after, before = (_key(request.GET.get(f"lines-{name}", "")) for name in ("after", "before"))
        found = queries.legs(self.account, below=after, above=before, most=self.page_size + 1)
        more = len(found) > self.page_size
        shown = (found[1:] if before else found[:-1]) if more else found
        if not shown:
            return Leaf([])
        return Leaf(
            queries.lines_of(self.account, shown),
            str(shown[0].pk),
            str(shown[-1].pk),
            more_before=more if before else after is not None,
            more_after=True if before else more,
        )

    def render_what(self, record: AccountLine) -> SafeString:
        movement, entry = record.movement, record.entry
        words = CAUSES[movement.cause].words
        line = _link(links.address(self.access, "entry", entry.seq), f"line {entry.seq}")
        other = _link(links.of_account(self.access, record.other), record.other)
        direction = "from" if record.other == movement.source else "to"
        marks = marks_of(entry, self.access.book)
        said = format_html("{} {} {}", words[0].upper() + words[1:], direction, other)
        tail = "" if marks == "written" else f", {marks}"
        place, address = links.of_context(self.access, entry.context)
        visit = format_html(", {}", _link(address, place)) if place.startswith("visit") else ""
        gas = "" if self.account.kind == "cylinder" else f" {movement.refrigerant} {movement.grade}"
        return format_html("{}{}<br>{}{}{}", said, gas, line, visit, tail)


def _key(text: str) -> int | None:
    return int(text) if text.isdecimal() and len(text) < 19 else None


# --- partners -------------------------------------------------------------------------------------------------


class PartnerTable(BookTable):
    """Partners of the book."""

    nouns = ("partner", "partners")
    name = tables.Column("Name")
    kind = tables.Column("Kind")
    registration = tables.Column("Registration number")
    address = tables.Column("Address", orderable=False)
    state = tables.Column("State", accessor="retired", orderable=False)

    class Meta:
        order_by = "name"

    def __init__(self, *args: Any, access: Access, **options: Any) -> None:
        self.access = access
        super().__init__(*args, **options)

    def render_name(self, value: str, record: Partner) -> SafeString:
        return _link(links.address(self.access, "partner", record.account.number), value)

    def value_name(self, value: Any) -> str:
        return str(value)

    def render_state(self, value: bool) -> str:
        return "no longer used" if value else "in use"

    def render_registration(self, value: str) -> str:
        return value or "not entered"

    def render_address(self, value: str) -> str:
        return " ".join(value.split()) or "not entered"


class ConsignmentTable(BookTable):
    """What went to one partner, and what its paper accepted."""

    nouns = ("consignment", "consignments")
    margin = True
    sent_on = DayColumn(verbose_name="Sent", accessor="entry__booked_on", orderable=False)
    number = tables.Column("Number", orderable=False)
    cylinder = tables.Column("Cylinder", orderable=False)
    purpose = tables.Column("What for", orderable=False)
    accepted = MassColumn("Accepted", accessor="accepted_mg", orderable=False, default="no paper yet")
    paper_number = tables.Column("Paper", orderable=False)

    class Meta:
        order_by = "-pk"

    def __init__(self, *args: Any, access: Access, **options: Any) -> None:
        self.access = access
        super().__init__(*args, html_id="consignments", **options)

    def render_number(self, value: str, record: Any) -> SafeString:
        return _link(links.address(self.access, "entry", record.entry.seq), value)

    def value_number(self, value: Any) -> str:
        return str(value)

    def render_cylinder(self, value: Cylinder) -> SafeString:
        return _link(links.address(self.access, "cylinder", value.account.number), value)

    def value_cylinder(self, value: Any) -> str:
        return str(value)

    def render_paper_number(self, value: str) -> str:
        return value or "not entered"
