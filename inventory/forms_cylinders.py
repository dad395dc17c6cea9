"""Forms of cylinders: what is entered when one comes, what may be put right, and the acts on one."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from inventory import catalogue, uncertainty, weighing
from inventory.access import Access
from inventory.acts import First, FirstReading, NewCylinder
from inventory.airchecks import AirReading
from inventory.catalogue import MIXED
from inventory.causes import GRADES
from inventory.fields import DurationField, MassField, PressureField, TemperatureField, WaterCapacityField
from inventory.forms import BookForm, PlainForm, echo_url
from inventory.forms_weighing import ScaleField, gross_field, reading_of, scale_field
from inventory.models import Book, Cylinder, Entry, Gauge, Holding, Partner
from inventory.quantities import Mass, show_mass
from inventory.serials import serial_field, serial_of_no_other
from inventory.weighing import Gross

CHOOSE = ("", "choose")
MIXED_WORDS = "MIXED, not one refrigerant"
STAMP_GOOD_TO = "50 g"  # common practice for a stamped tare, no source; the field shows it and takes another


class DayField(forms.DateField):
    """A day by the browser's own control."""

    def __init__(self, **options: Any) -> None:
        options.setdefault("widget", forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}))
        options.setdefault("error_messages", {"invalid": "That is not a day that can be read. Write 2026-03-04."})
        super().__init__(**options)


def choice(label: str, choices: Sequence[Any], *, radio: bool = False, **options: Any) -> forms.ChoiceField:
    """Return a field of one choice, with a sentence of ours where none was made."""
    what = options.pop("what", label.lower())
    options.setdefault("error_messages", {"required": f"Choose the {what}.", "invalid_choice": f"Choose the {what}."})
    widget = forms.RadioSelect if radio else forms.Select
    return forms.ChoiceField(label=label, choices=choices, widget=widget, **options)


def text(label: str, *, what: str = "", long: bool = False, **options: Any) -> forms.CharField:
    """Return a field of free text, with a sentence of ours where it is missing."""
    options.setdefault("error_messages", {"required": f"Enter the {what or label.lower()}."})
    widget = forms.Textarea(attrs={"rows": 3}) if long else forms.TextInput(attrs={"autocomplete": "off"})
    return forms.CharField(label=label, widget=widget, **options)


def refrigerant_choices(book: Book, *, mixed: bool = True) -> list[Any]:
    """Return the refrigerants to choose from: those of this book first, then every one of the catalogue."""
    own = set(Cylinder.objects.filter(account__book=book).values_list("refrigerant", flat=True).distinct())
    every = [(one.code, one.code) for one in catalogue.refrigerants()]
    known = [pair for pair in every if pair[0] in own]
    last = [(MIXED, MIXED_WORDS)] if mixed else []
    grouped = [("in this book", known), ("all", every)] if known else [("all", every)]
    return [CHOOSE, *grouped, *last]


def partner_choices(partners: Iterable[Partner]) -> list[tuple[str, str]]:
    """Return partners to choose from, by their account's number."""
    return [CHOOSE, *((str(one.account.number), f"{one.name}, {one.kind}") for one in partners)]


def partners_of(book: Book, *, kinds: Sequence[str] = ()) -> list[Partner]:
    """Return the partners of a book that are in use, by name."""
    found = Partner.objects.filter(account__book=book, retired=False).select_related("account").order_by("name")
    return list(found.filter(kind__in=kinds) if kinds else found)


def use_unit(form: forms.Form, unit: str) -> None:
    """Let the mass fields of a form begin with the workshop's unit."""
    for field in form.fields.values():
        if isinstance(field, MassField) and unit in field.units and field.default_unit == "kg":
            field.default_unit = unit


# --- receiving ------------------------------------------------------------------------------------------------

BOUGHT, CUSTOMERS, RECLAIMED, STOOD_HERE, EMPTY = (
    "purchase",
    "customer-gas-in",
    "returned-reclaimed",
    "opening-stock",
    "empty",
)
ORIGINS = [
    (BOUGHT, "bought"),
    (CUSTOMERS, "a customer’s gas"),
    (RECLAIMED, "own gas back from reclaim"),
    (STOOD_HERE, "stood here before the book began"),
    (EMPTY, "it comes empty"),
]
SINGLE, PAPER, COUNT, MACHINE = "single", "paper", "count", "machine"
MANNERS = [
    (SINGLE, "by one weighing, gross less empty mass"),
    (PAPER, "by the partner’s paper"),
    (COUNT, "by counting sealed cans"),
    (MACHINE, "by what its machine shows"),
]
ALLOWED = {
    BOUGHT: (SINGLE, PAPER, COUNT),
    CUSTOMERS: (SINGLE, COUNT),
    RECLAIMED: (SINGLE, PAPER),
    STOOD_HERE: (SINGLE, COUNT, MACHINE),
}


class ReceiveForm(BookForm):
    """A cylinder comes: what it is, where from, and how its first content is known."""

    serial = serial_field()
    kind = choice("Kind", [(kind, kind) for kind in Cylinder.KINDS], radio=True)
    refrigerant = choice("What is in it, or what it is for", (), what="refrigerant")
    grade = choice("Grade", [CHOOSE, *((grade, grade) for grade in GRADES)])
    origin = choice("Where it comes from", ORIGINS, radio=True, what="origin")
    partner = choice("From whom", (), required=False)
    stood_before = forms.BooleanField(label="It did stand here before the book’s first day", required=False)
    tare = MassField(label="Empty mass", what="empty mass", help_text="Stamped as TW or T on the collar, or measured.")
    tare_source = choice("How the empty mass is known", [(one, one) for one in Cylinder.TARE_SOURCES])
    tare_limit = MassField(
        label="Empty mass good to, give or take",
        what="limit of the empty mass",
        units=("g", "kg", "oz", "lb"),
        default_unit="g",
        required=False,
        initial=STAMP_GOOD_TO,
        help_text="A stamp is commonly good to 50 g. It goes into what the readings can tell.",
    )
    water_capacity = WaterCapacityField(
        label="Water capacity",
        what="water capacity",
        required=False,
        help_text="Stamped as WC, in litres or in pounds of water. Without it no filling limit is known.",
    )
    manner = choice("How its content is known", MANNERS, radio=True, required=False, initial=SINGLE)
    scale = ScaleField((), required=False)
    gross = MassField(label="Gross now", what="gross mass", required=False, from_scale=True)
    paper_mass = MassField(label="Mass on the paper", what="mass on the paper", required=False)
    paper_number = text("Number of the paper", required=False)
    requalify_by = DayField(label="Next test date", required=False, help_text="Past it, nothing is filled in.")
    place = text("Where it stands", required=False)
    service_pressure = PressureField(label="Service pressure", what="service pressure", required=False)
    can_count = forms.IntegerField(label="Cans", required=False, min_value=1, max_value=100_000)
    can_content = MassField(
        label="Content of each can", what="content of a can", units=("g", "oz"), default_unit="g", required=False
    )
    can_limit = MassField(
        label="Content good to, give or take, each",
        what="tolerance of a can",
        units=("g", "oz"),
        default_unit="g",
        required=False,
    )
    machine_mass = MassField(label="Mass that the machine shows", what="mass shown", required=False)
    machine_limit = MassField(
        label="Machine good to, give or take",
        what="limit of the machine",
        units=("g", "oz"),
        default_unit="g",
        required=False,
    )
    recycles = forms.BooleanField(label="The machine recycles this refrigerant to its standard", required=False)
    note = text("Note", required=False, long=True)

    LESSER = (
        "stood_before",
        *("requalify_by", "place", "service_pressure", "can_count", "can_content", "can_limit"),
        *("machine_mass", "machine_limit", "recycles", "note"),
    )
    set_aside_words = "Test date, place, pressure, cans, machine, note, opening stock"

    def __init__(self, *args: Any, access: Access, **options: Any) -> None:
        super().__init__(*args, access=access, **options)
        self.book = access.book
        self.began = _first_day(access.book)
        self.partners = {str(one.account.number): one for one in partners_of(access.book)}
        self.fields["scale"] = scale_field(access, required=False)
        _set_choices(self, "refrigerant", refrigerant_choices(access.book))
        _set_choices(self, "partner", partner_choices(self.partners.values()))
        if not self._began_before_today:
            del self.fields["stood_before"]
        use_unit(self, access.mass_unit)

    def clean_serial(self) -> str:
        return serial_of_no_other(self)

    @property
    def _began_before_today(self) -> bool:
        return self.began is not None and self.began < timezone.localdate()

    @property
    def up_front(self) -> list[Any]:
        """The fields that stand open."""
        return [field for field in self.visible_fields() if field.name not in self.LESSER]

    @property
    def set_aside(self) -> list[Any]:
        """The fields behind "more"."""
        return [field for field in self.visible_fields() if field.name in self.LESSER]

    @property
    def set_aside_open(self) -> bool:
        """Whether they stand open: where something is to be put right, or was entered."""
        return self.is_bound and any(field.errors or self.data.get(field.html_name) for field in self.set_aside)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        self.weighed: Gross | None = None
        if cleaned.get("origin") == EMPTY:
            self._read_gross(required=False)
            return cleaned
        self._check_origin(cleaned)
        manner = cleaned.get("manner") or SINGLE
        origin = cleaned.get("origin")
        if origin in ALLOWED and manner not in ALLOWED[origin]:
            words = " or ".join(dict(MANNERS)[one] for one in ALLOWED[origin])
            self.add_error("manner", f"Gas of this origin is known {words}.")
            return cleaned
        self._read_gross(required=manner == SINGLE)
        self._need(
            {
                PAPER: {"paper_mass": "Enter the mass on the paper."},
                COUNT: {"can_count": "Enter how many cans there are.", "can_content": "Enter what one can holds."},
                MACHINE: {
                    "machine_mass": "Enter the mass that the machine shows.",
                    "machine_limit": "Enter the limit of error that the machine’s maker states.",
                },
            }.get(manner, {})
        )
        return cleaned

    def _check_origin(self, cleaned: dict[str, Any]) -> None:
        origin = cleaned.get("origin")
        if origin in (BOUGHT, CUSTOMERS, RECLAIMED) and not cleaned.get("partner") and "partner" not in self.errors:
            self.add_error("partner", "Choose from whom it comes. A new partner is entered under Partners.")
        if origin == CUSTOMERS and cleaned.get("grade") not in (None, "", "suspect"):
            self.add_error(
                "grade",
                "Gas that a customer brings is suspect until it has been tested. Choose suspect; a change of grade "
                "follows when an identifier has shown what it is.",
            )
        if origin == RECLAIMED and cleaned.get("grade") not in (None, "", "reclaimed"):
            self.add_error("grade", "What comes back from reclaim is reclaimed. Choose that grade.")
        if origin == STOOD_HERE and self._began_before_today and not cleaned.get("stood_before"):
            self.add_error(
                "stood_before",
                f"The book began on {self.began}. A cylinder that comes into it later was bought, brought or turned "
                "up. Did this one stand here before that day? Then say so here, and write in the note why it comes "
                "in only now.",
            )
        if cleaned.get("stood_before") and origin == STOOD_HERE and not cleaned.get("note"):
            self.add_error("note", "Write why this cylinder comes into the book only now.")

    def _need(self, wanted: dict[str, str]) -> None:
        for name, sentence in wanted.items():
            if self.cleaned_data.get(name) is None and name not in self.errors:
                self.add_error(name, sentence)

    def _read_gross(self, *, required: bool) -> None:
        gross, scale = self.cleaned_data.get("gross"), self.cleaned_data.get("scale")
        if required and gross is None and "gross" not in self.errors:
            self.add_error("gross", "Enter the gross mass, or choose another way in which its content is known.")
        if gross is not None and scale is None and "scale" not in self.errors:
            self.add_error("scale", "Choose the scale that it stands on.")
        tare = self.cleaned_data.get("tare")
        if isinstance(gross, Mass) and isinstance(tare, Mass):
            self.weighed = reading_of(self, "gross", self._unsaved(tare), scale)

    def _unsaved(self, tare: Mass) -> Cylinder:
        return Cylinder(serial=self.cleaned_data.get("serial", ""), tare_mg=tare.mg, tare_u_mg=self.tare_u_mg)

    @property
    def tare_u_mg(self) -> int:
        """The standard uncertainty of the empty mass: its limit is rectangular."""
        limit = self.cleaned_data.get("tare_limit")
        return round(uncertainty.rectangular(limit.mg / 1000) * 1000) if isinstance(limit, Mass) else 0

    @property
    def chosen_partner(self) -> Partner | None:
        """The partner it comes from."""
        return self.partners.get(self.cleaned_data.get("partner", ""))

    def new(self) -> NewCylinder:
        """Return what the cylinder is; only of a form that is valid."""
        of = self.cleaned_data.get
        quantities = ("tare", "tare_limit", "water_capacity", "service_pressure", "can_content", "machine_limit")
        return NewCylinder(
            serial=self.cleaned_data["serial"],
            kind=self.cleaned_data["kind"],
            refrigerant=self.cleaned_data["refrigerant"],
            grade=self.cleaned_data["grade"],
            tare_mg=self.cleaned_data["tare"].mg,
            tare_u_mg=self.tare_u_mg,
            tare_source=self.cleaned_data["tare_source"],
            water_capacity_m3=_si(of("water_capacity")),
            service_pressure_pa=_si(of("service_pressure")),
            requalify_by=of("requalify_by"),
            place=of("place", ""),
            can_count=of("can_count"),
            can_content_mg=_mg(of("can_content")),
            machine_limit_mg=_mg(of("machine_limit")),
            recycles=bool(of("recycles")),
            paper_number=of("paper_number", ""),
            paper_mass_mg=_mg(of("paper_mass")),
            typed={name: _typed(value) for name in quantities if (value := of(name)) is not None},
        )

    def first(self) -> First | None:
        """Return how its first content is known; None where it comes empty."""
        origin = self.cleaned_data["origin"]
        if origin == EMPTY:
            return None
        manner, partner = self.cleaned_data.get("manner") or SINGLE, self.chosen_partner
        partner = None if origin == STOOD_HERE else partner
        if manner == SINGLE:
            return First(origin, SINGLE, partner)
        mass_mg, u = self._mass_of(manner)
        return First(origin, manner, partner, mass_mg, round(u.total_g * 1000))

    def _mass_of(self, manner: str) -> tuple[int, uncertainty.U]:
        of = self.cleaned_data
        if manner == PAPER:
            return of["paper_mass"].mg, uncertainty.paper(of["paper_mass"].mg / 1000)
        if manner == COUNT:
            each_g = (_mg(of.get("can_limit")) or 0) / 1000
            return of["can_count"] * of["can_content"].mg, uncertainty.count(of["can_count"], each_g)
        return of["machine_mass"].mg, uncertainty.machine(of["machine_limit"].mg / 1000)

    def reading(self) -> FirstReading | None:
        """Return the gross reading, where there is one."""
        one = self.weighed
        return FirstReading(one.scale, one.gross_mg, one.typed) if one else None

    def content_mg(self) -> int:
        """Return what it holds by this form, in milligrams."""
        first = self.first()
        if first is None:
            return 0
        if first.basis == SINGLE and self.weighed is not None:
            return max(self.weighed.gross_mg - self.weighed.cylinder.tare_mg, 0)
        return first.mass_mg


def paper_sentence(net_mg: int, u_mg: float, paper_mg: int | None, unit: str = "kg") -> str:
    """Return how a weighed mass compares with the one on the paper; empty where there is none.

    The paper is taken as it stands: what the readings can tell is twice the standard uncertainty of the weighed mass.
    """
    if paper_mg is None:
        return ""
    says = f"Paper says {show_mass(paper_mg, unit=unit)}"  # type: ignore[arg-type] # the workshop's unit
    gap_mg = net_mg - paper_mg
    if gap_mg == 0:
        return f"{says}: the same."
    way = "more" if gap_mg > 0 else "less"
    found = f"weighed {show_mass(abs(gap_mg), unit='g')} {way}"
    can_tell_mg = round(2 * u_mg)
    if abs(gap_mg) <= can_tell_mg:
        return f"{says}, {found}: within what the readings can tell ({show_mass(can_tell_mg, unit='g')})."
    times = abs(gap_mg) / can_tell_mg if can_tell_mg else 0
    beyond = f"{times:.1f} times what the readings can tell" if times else "beyond what the readings can tell"
    return f"{says}, {found}: {beyond}. Ask the supplier."


def _first_day(book: Book) -> date | None:
    first = Entry.objects.filter(book=book).order_by("seq").values_list("booked_on", flat=True).first()
    return first


def _set_choices(form: forms.Form, name: str, choices: Sequence[Any]) -> None:
    field = form.fields[name]
    assert isinstance(field, forms.ChoiceField)  # noqa: S101 - for the type
    field.choices = choices


def _si(value: Any) -> float | None:
    return None if value is None else float(value.si)


def _mg(value: Any) -> int | None:
    return None if value is None else int(value.mg)


def _typed(value: Any) -> str:
    return value.text if any(char.isalpha() for char in value.text) else f"{value.text} {value.unit}"


# --- what is not a mass ---------------------------------------------------------------------------------------


class EditForm(PlainForm):
    """What a cylinder is and where it stands; no mass changes here."""

    serial = serial_field()
    kind = choice("Kind", [(kind, kind) for kind in Cylinder.KINDS], radio=True)
    refrigerant = choice("What it is for", (), what="refrigerant")
    grade = choice("Grade it is for", [(grade, grade) for grade in GRADES])
    state = choice(
        "State",
        [("ready", "ready"), ("put aside", "put aside: damaged, leaking, waiting"), ("suspect", "suspect")],
        radio=True,
    )
    place = text("Where it stands", required=False)
    water_capacity = WaterCapacityField(label="Water capacity", what="water capacity", required=False)
    service_pressure = PressureField(label="Service pressure", what="service pressure", required=False)
    requalify_by = DayField(label="Next test date", required=False)
    machine_limit = MassField(
        label="Machine good to, give or take",
        what="limit of the machine",
        units=("g", "oz"),
        default_unit="g",
        required=False,
    )
    recycles = forms.BooleanField(label="The machine recycles this refrigerant to its standard", required=False)
    paper_number = text("Number of the paper", required=False)

    def __init__(self, *args: Any, cylinder: Cylinder, access: Access, **options: Any) -> None:
        self.cylinder = cylinder
        plain = ["serial", "kind", "refrigerant", "grade", "state", "place", "requalify_by", "recycles", "paper_number"]
        initial = {name: getattr(cylinder, name) for name in plain}
        typed = cylinder.typed or {}
        initial |= {name: typed.get(name, "") for name in ("water_capacity", "service_pressure", "machine_limit")}
        if not initial["water_capacity"] and cylinder.water_capacity_m3:
            initial["water_capacity"] = f"{cylinder.water_capacity_m3 * 1000:.10g} L"
        if not initial["service_pressure"] and cylinder.service_pressure_pa:
            initial["service_pressure"] = f"{cylinder.service_pressure_pa / 1000:.10g} kPa absolute"
        if not initial["machine_limit"] and cylinder.machine_limit_mg:
            initial["machine_limit"] = f"{Decimal(cylinder.machine_limit_mg) / 1000:f} g"
        super().__init__(*args, access=access, initial=initial, **options)
        _set_choices(self, "refrigerant", refrigerant_choices(access.book))
        if Holding.objects.filter(account=cylinder.account).exclude(mass_mg=0).exists():
            del self.fields["refrigerant"], self.fields["grade"]
        if cylinder.state in ("away", "done with"):
            del self.fields["state"]
        if cylinder.kind != Cylinder.TANK and not self.is_bound:
            del self.fields["machine_limit"], self.fields["recycles"]

    def clean_serial(self) -> str:
        return serial_of_no_other(self, self.cylinder)

    def facts(self) -> dict[str, Any]:
        """Return the facts to be kept; only of a form that is valid."""
        plain = ["serial", "kind", "refrigerant", "grade", "state", "place", "requalify_by", "paper_number"]
        facts = {name: self.cleaned_data[name] for name in plain if name in self.fields}
        facts["water_capacity_m3"] = _si(self.cleaned_data["water_capacity"])
        facts["service_pressure_pa"] = _si(self.cleaned_data["service_pressure"])
        typed = dict(self.cylinder.typed or {})
        quantities = ["water_capacity", "service_pressure"]
        if facts["kind"] == Cylinder.TANK:
            facts["machine_limit_mg"] = _mg(self.cleaned_data.get("machine_limit"))
            facts["recycles"] = bool(self.cleaned_data.get("recycles"))
            quantities.append("machine_limit")
        for name in quantities:
            value = self.cleaned_data.get(name)
            typed[name] = "" if value is None else _typed(value)
        facts["typed"] = typed
        return facts


# --- acts on one cylinder -------------------------------------------------------------------------------------


class OnCylinder(BookForm):
    """An act on one cylinder; where it has a scale, the field offers the book's."""

    def __init__(self, *args: Any, cylinder: Cylinder, access: Access, **options: Any) -> None:
        self.cylinder = cylinder
        super().__init__(*args, access=access, **options)
        if "scale" in self.fields:
            self.fields["scale"] = scale_field(access, required=self.fields["scale"].required)
        use_unit(self, access.mass_unit)
        self.readings: dict[str, Gross] = {}

    def read(self, name: str, cylinder: Cylinder | None = None) -> None:
        """Keep the reading of field `name` in `readings`, or add what is to be put right."""
        if self.cleaned_data.get(name) is None:
            return
        scale = self.cleaned_data.get("scale")
        if scale is None:
            if "scale" not in self.errors:
                self.add_error("scale", "Choose the scale.")
            return
        gross = reading_of(self, name, cylinder or self.cylinder, scale)
        if gross is not None:
            self.readings[name] = gross


class GrossForm(OnCylinder):
    """An act with one reading."""

    scale = ScaleField(())
    gross = MassField(label="Gross on the scale", what="gross mass", from_scale=True)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        self.read("gross")
        return cleaned

    @property
    def reading(self) -> Gross:
        """The reading; only of a form that is valid."""
        return self.readings["gross"]


class TareForm(GrossForm):
    """The true empty mass, by weighing the cylinder empty and evacuated."""

    gross = MassField(
        label="Reading of the empty, evacuated cylinder",
        what="empty mass",
        from_scale=True,
        help_text="With its valve, without its cap, as it is always weighed.",
    )
    reason = text("Why, and how it is proved", what="reason", long=True, help_text="A photo of the plate, say.")
    field_order = ["scale", "gross", "reason", "occurred_at"]


class TransferForm(OnCylinder):
    """Gas from this cylinder into another, by a pair of readings on either."""

    target = choice("Into", (), what="cylinder that it goes into")
    weighed = choice(
        "Which of the two stands on the scale",
        [("source", "the one it comes from"), ("target", "the one it goes into")],
        radio=True,
        initial="source",
        what="cylinder on the scale",
    )
    scale = ScaleField(())
    before = MassField(
        label="Gross before",
        what="gross before",
        required=False,
        from_scale=True,
        help_text="Left empty where it stands on the scale already, with its reading before.",
    )
    after = MassField(label="Gross after", what="gross after", from_scale=True)
    restarted = forms.BooleanField(
        label="The scale was switched off or zeroed between the two readings", required=False
    )
    happened = forms.BooleanField(label="It has happened already: write it even if a limit was passed", required=False)
    note = text("Note", required=False, long=True)

    def __init__(self, *args: Any, cylinder: Cylinder, access: Access, **options: Any) -> None:
        super().__init__(*args, cylinder=cylinder, access=access, **options)
        others = Cylinder.objects.filter(account__book=access.book).exclude(state__in=("away", "done with"))
        others = others.exclude(pk=cylinder.pk).select_related("account").order_by("serial")
        self.others = {str(one.account.number): one for one in others}
        words = [(number, f"{one}, {one.refrigerant} {one.grade}, {one.kind}") for number, one in self.others.items()]
        _set_choices(self, "target", [CHOOSE, *words])

    @property
    def target_cylinder(self) -> Cylinder:
        """The cylinder that it goes into; only of a form that is valid."""
        return self.others[self.cleaned_data["target"]]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if cleaned.get("target") not in self.others:
            return cleaned
        on_scale = self.cylinder if cleaned.get("weighed") == "source" else self.target_cylinder
        if cleaned.get("before") is None and "before" not in self.errors and not weighing.open_before(on_scale):
            self.add_error("before", f"{on_scale} was not weighed before. Enter the reading before as well.")
        self.read("before", on_scale)
        self.read("after", on_scale)
        return cleaned


class RegradeForm(OnCylinder):
    """The grade of all that a cylinder holds changes; the evidence is named."""

    grade = choice("It is now", (), radio=True, what="grade")
    evidence = text(
        "What shows it",
        what="evidence",
        long=True,
        help_text="The machine that recycled it, the laboratory’s paper and its number, what spoiled it.",
    )

    def __init__(self, *args: Any, held_grade: str, **options: Any) -> None:
        super().__init__(*args, **options)
        grades = [(one, one) for one in GRADES if one not in ("virgin", held_grade)]
        _set_choices(self, "grade", grades)


class SharesField(forms.CharField):
    """What an identifier showed: ``R-1234yf 91.5, R-134a 8.0, air 0.5``; cleaned: {code: mass fraction as text}."""

    def clean(self, value: Any) -> Any:
        said = super().clean(value)
        shares: dict[str, str] = {}
        for part in re.split(r"[;\n]+|,\s+|,(?=\s*[A-Za-z])", said or ""):
            if not part.strip():
                continue
            code, per_cent = _share(part.strip())
            if code in shares:
                raise ValidationError(f"{code} stands twice. Write each part once.", code="twice")
            shares[code] = f"{per_cent / 100:f}"
        total = sum(Decimal(share) for share in shares.values()) * 100
        if not Decimal(98) <= total <= Decimal(101):
            raise ValidationError(f"The parts add up to {total:f} %, not to 100. Read the display again.", code="sum")
        return shares


def _share(part: str) -> tuple[str, Decimal]:
    """Return the code (or ``air``) and the per cent of one part."""
    match = re.fullmatch(r"(?P<name>.*\S)\s+(?P<number>\d+(?:[.,]\d+)?)\s*%?", part)
    if match is None:
        raise ValidationError(
            f"“{part}” cannot be read. Write each part as R-134a 99.2, with a comma between two.", code="unread"
        )
    name, number = match["name"], Decimal(match["number"].replace(",", "."))
    if name.lower() == "air":
        return "air", number
    try:
        return catalogue.find(name).code, number
    except catalogue.UnknownRefrigerant as error:
        raise ValidationError(str(error), code="unknown") from None


class IdentifyForm(OnCylinder):
    """An identifier says that a content is something else."""

    refrigerant = choice("It is", (), what="refrigerant")
    parts = SharesField(
        label="What the identifier showed, in per cent",
        error_messages={"required": "Enter each part that the identifier showed, with its per cent."},
        widget=forms.Textarea(attrs={"rows": 3, "autocomplete": "off", "spellcheck": "false"}),
        help_text="Such as: R-1234yf 91.5, R-134a 8.0, air 0.5. From 98 % of one on, it is that one; below, MIXED.",
    )
    instrument = text("Instrument and its number", required=False)
    note = text("Note", required=False, long=True)

    def __init__(self, *args: Any, access: Access, **options: Any) -> None:
        super().__init__(*args, access=access, **options)
        _set_choices(self, "refrigerant", refrigerant_choices(access.book))

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        code, shares = cleaned.get("refrigerant"), cleaned.get("parts")
        if not code or not shares:
            return cleaned
        gas = {name: Decimal(share) for name, share in shares.items() if name != "air"}
        whole = sum(gas.values())
        if code != MIXED and whole and gas.get(code, Decimal(0)) / whole < Decimal("0.98"):
            share = gas.get(code, Decimal(0)) / whole * 100
            self.add_error(
                "refrigerant",
                f"{share:.1f} % of it is {code}, less than the 98 % that makes it {code}. Choose MIXED, or read again.",
            )
        return cleaned


class AirForm(OnCylinder):
    """A cylinder's pressure after it has stood, to judge how much air is in it."""

    pressure = PressureField(
        label="Pressure on its gauge",
        what="pressure",
        known={"plausible_pa": (50_000.0, 1.2e7)},
        error_messages={"required": "Enter the pressure."},
    )
    temperature = TemperatureField(
        label="Temperature beside it",
        what="temperature",
        help_text="By a thermometer hung within 10 cm (4 inches) of it.",
    )
    waited = DurationField(
        label="How long it stood",
        what="time it stood",
        units=("h", "min", "d"),
        default_unit="h",
        required=False,
        optional_words="(no verdict without it)",
        help_text="12 hours at 18.3 °C (65 °F) or warmer are asked: common practice.",
    )
    shaded = choice(
        "Out of the sun and away from heat?",
        [("yes", "yes"), ("no", "no")],
        radio=True,
        required=False,
    )
    gauge = choice("Gauge", (), required=False)

    def __init__(self, *args: Any, access: Access, pressure_unit: str, temperature_unit: str, **options: Any) -> None:
        super().__init__(*args, access=access, **options)
        self.fields["shaded"].optional_words = "(no verdict without it)"  # type: ignore[attr-defined]
        for name, unit in (("pressure", pressure_unit), ("temperature", temperature_unit)):
            field = self.fields[name]
            if isinstance(field, (PressureField, TemperatureField)) and unit in field.units:
                field.default_unit = unit
        gauges = Gauge.objects.filter(book=access.book, retired=False, kind="pressure gauge").order_by("name")
        self.gauges = {str(gauge.pk): gauge for gauge in gauges}
        _set_choices(self, "gauge", [("", "not entered"), *((key, one.name) for key, one in self.gauges.items())])

    @property
    def air_reading(self) -> AirReading:
        """What was read, with what was typed; only of a form that is valid."""
        cleaned = self.cleaned_data
        waited, gauge = cleaned.get("waited"), self.gauges.get(cleaned.get("gauge") or "")
        typed = {name: cleaned[name].echo for name in ("pressure", "temperature", "waited") if cleaned.get(name)}
        typed |= {"shaded": cleaned.get("shaded") or "", "gauge": gauge.name if gauge else ""}
        return AirReading(
            pressure_pa=cleaned["pressure"].si,
            temperature_k=cleaned["temperature"].si,
            waited_s=waited.si if waited else None,
            shaded=cleaned["shaded"] == "yes" if cleaned.get("shaded") else None,
            gauge=gauge,
            typed={name: text for name, text in typed.items() if text},
        )


PURPOSES = {
    "reclaim": ("sent-away", "to be reclaimed"),
    "destruction": ("sent-away", "to be destroyed"),
    "return to supplier": ("heel-returned", "back to the supplier, with what is in it"),
    "sale": ("passed-on", "sold"),
    "other": ("passed-on", "given to another owner"),
}


class SendForm(GrossForm):
    """A cylinder goes away with all it holds."""

    partner = choice("To whom", (), what="partner it goes to")
    purpose = choice("What for", [(name, words) for name, (_, words) in PURPOSES.items()], radio=True, what="purpose")
    number = text("Number of the consignment", required=False, help_text="Left empty, it takes the line’s number.")
    paper_number = text("Number of the papers", required=False)
    temperature = TemperatureField(
        label="Temperature of the cylinder",
        what="temperature",
        required=False,
        help_text="With it the page says how much of a heel is vapour alone.",
    )
    note = text("Note", required=False, long=True)
    field_order = ["partner", "purpose", "scale", "gross", "number", "paper_number", "temperature", "note"]

    def __init__(self, *args: Any, access: Access, **options: Any) -> None:
        super().__init__(*args, access=access, **options)
        self.partners = {str(one.account.number): one for one in partners_of(access.book)}
        here = [one for one in self.partners.values() if one.kind != "sister workshop"]
        _set_choices(self, "partner", partner_choices(here))
        if not here:
            self.fields["partner"].help_text = "No partner is entered yet. Enter the receiver under Partners first."

    @property
    def chosen_partner(self) -> Partner:
        """The partner it goes to; only of a form that is valid."""
        return self.partners[self.cleaned_data["partner"]]


class ChooseForm(forms.Form):
    """Which cylinder goes away."""

    cylinder = choice("Which cylinder goes", (), what="cylinder")

    def __init__(self, *args: Any, cylinders: Iterable[Cylinder], **options: Any) -> None:
        super().__init__(*args, **options)
        words = [(str(one.account.number), f"{one}, {one.refrigerant} {one.grade}") for one in cylinders]
        _set_choices(self, "cylinder", [CHOOSE, *words])


class BackForm(GrossForm):
    """A cylinder comes back."""

    partner = choice("From whom", (), what="partner it comes from")
    cause = choice(
        "What comes back",
        [("came-back", "what was sent: refused or not taken"), ("returned-reclaimed", "own gas, reclaimed")],
        radio=True,
        initial="came-back",
        what="kind of return",
    )
    paper_number = text("Number of the papers", required=False)
    note = text("Note", required=False, long=True)
    field_order = ["partner", "cause", "scale", "gross", "paper_number", "note"]

    def __init__(self, *args: Any, access: Access, last: Partner | None, **options: Any) -> None:
        super().__init__(*args, access=access, **options)
        self.partners = {str(one.account.number): one for one in partners_of(access.book)}
        if last is not None:
            self.partners.setdefault(str(last.account.number), last)
            self.initial["partner"] = str(last.account.number)
        _set_choices(self, "partner", partner_choices(self.partners.values()))

    @property
    def chosen_partner(self) -> Partner:
        """The partner it comes from; only of a form that is valid."""
        return self.partners[self.cleaned_data["partner"]]


LOSSES = {
    "purge": "purged: air bled off the top, with refrigerant in it",
    "leaked-from-stock": "leaked: valve, relief or hose, seen or proved",
    "was-oil": "was oil: drained out, and had been booked as refrigerant",
    "scrapped-with-rest": "thrown away with a rest in it",
    "missing": "missing: stolen or not to be found",
    "released-exempt": "released, of a gas that the rules exempt",
}
BY_READINGS = ("purge", "was-oil")
ALL_OF_IT = ("scrapped-with-rest", "missing")


class LossForm(OnCylinder):
    """Gas left a cylinder: by a pair of readings, or all that it held."""

    cause = choice("What happened", list(LOSSES.items()), radio=True, what="kind of loss")
    how = choice(
        "How much",
        [("pair", "by the readings before and after"), ("rest", "all that it held")],
        radio=True,
        initial="pair",
        what="way in which the mass is known",
    )
    scale = ScaleField((), required=False)
    before = MassField(
        label="Gross before",
        what="gross before",
        required=False,
        from_scale=True,
        help_text="Left empty where it stands on the scale already, with its reading before.",
    )
    after = MassField(label="Gross after", what="gross after", required=False, from_scale=True)
    reason = text("How it is known", what="reason", long=True, help_text="Who saw it, the photo, the report’s number.")

    def __init__(self, *args: Any, held_code: str, **options: Any) -> None:
        super().__init__(*args, **options)
        if held_code != "R-744":
            _set_choices(self, "cause", [pair for pair in LOSSES.items() if pair[0] != "released-exempt"])

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        cause, how = cleaned.get("cause"), cleaned.get("how")
        if how == "rest":
            if cause in BY_READINGS:
                self.add_error("how", "This is known by readings before and after. Weigh the cylinder.")
            return cleaned
        if how == "pair":
            self._read_pair(cause)
        return cleaned

    def _read_pair(self, cause: str | None) -> None:
        cleaned = self.cleaned_data
        if cause in ALL_OF_IT:
            self.add_error("how", "The whole cylinder is gone then: choose all that it held.")
            return
        if cleaned.get("before") is None and "before" not in self.errors and not weighing.open_before(self.cylinder):
            self.add_error("before", f"{self.cylinder} was not weighed before. Enter the reading before as well.")
        if cleaned.get("after") is None and "after" not in self.errors:
            self.add_error("after", "Enter the gross mass after.")
        self.read("before")
        self.read("after")


class SisterForm(GrossForm):
    """A cylinder moves to another workshop of the same person."""

    to = choice("To", (), what="workshop it goes to")
    note = text("Note", required=False, long=True)
    field_order = ["to", "scale", "gross", "note"]

    def __init__(self, *args: Any, books: Sequence[Book], **options: Any) -> None:
        super().__init__(*args, **options)
        self.books = {str(book.uid): book for book in books}
        _set_choices(self, "to", [CHOOSE, *((uid, book.name) for uid, book in self.books.items())])

    @property
    def sister(self) -> Book:
        """The book it goes to; only of a form that is valid."""
        return self.books[self.cleaned_data["to"]]


@dataclass(frozen=True)
class Row:
    """One cylinder in a round of the floor."""

    cylinder: Cylinder
    words: str


class StockTakeForm(BookForm):
    """One round of the floor: a reading for each cylinder that was weighed; those left empty were not."""

    scale = ScaleField(())
    note = text("Note", required=False, long=True, help_text="Who was there, say.")

    def __init__(self, *args: Any, access: Access, rows: Sequence[Row], **options: Any) -> None:
        super().__init__(*args, access=access, **options)
        self.fields["scale"] = scale_field(access)
        self.rows = {f"gross_{row.cylinder.account.number}": row for row in rows}
        for name, row in self.rows.items():
            what = f"gross mass of {row.cylinder}"
            field = gross_field(access.mass_unit, f"{row.cylinder}", what=what, required=False)
            field.help_text, field.optional_words = row.words, "left empty: not weighed"
            field.echo_url = echo_url(access)
            self.fields[name] = field
        self.order_fields(["scale", *self.rows, "note", "occurred_at"])

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        scale = cleaned.get("scale")
        read = {name: reading_of(self, name, row.cylinder, scale) for name, row in self.rows.items()}
        self.readings = {name: gross for name, gross in read.items() if gross is not None}
        if not self.readings and not self.errors:
            self.add_error(None, "No cylinder was weighed. Enter at least one reading.")
        return cleaned


class AcceptForm(PlainForm):
    """What the receiver's paper says of a consignment; it is noted beside it and moves nothing."""

    accepted = MassField(label="Refrigerant accepted", what="mass accepted")
    oil = MassField(
        label="Oil in it", what="mass of oil", units=("g", "kg", "oz", "lb"), default_unit="g", required=False
    )
    accepted_on = DayField(label="Day of the paper", error_messages={"required": "Enter the day of the paper."})
    paper_number = text("Number of the paper", required=False)

    def __init__(self, *args: Any, access: Access, **options: Any) -> None:
        super().__init__(*args, access=access, **options)
        use_unit(self, access.mass_unit)

    def clean_accepted_on(self) -> date:
        day: date = self.cleaned_data["accepted_on"]
        if day > timezone.localdate():
            raise ValidationError("That day is still to come.")
        return day
