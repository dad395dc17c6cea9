"""The form by which a cylinder comes into the book: what it is, where from, and how its first content is known."""

from datetime import date
from typing import Any

from django import forms
from django.utils import timezone

from inventory import uncertainty
from inventory.access import Access
from inventory.acts import First, FirstReading, NewCylinder
from inventory.causes import GRADES
from inventory.fields import MassField, PressureField, WaterCapacityField
from inventory.forms import BookForm
from inventory.forms_parts import (
    CHOOSE,
    DayField,
    choice,
    mg_of,
    partner_choices,
    partners_of,
    refrigerant_choices,
    set_choices,
    si_of,
    text,
    typed_of,
    use_unit,
)
from inventory.forms_weighing import ScaleField, reading_of, scale_field
from inventory.models import Book, Cylinder, Entry, Partner
from inventory.quantities import Mass, show_mass
from inventory.serials import serial_field, serial_of_no_other
from inventory.weighing import Gross

STAMP_GOOD_TO = "50 g"  # common practice for a stamped tare, no source; the field shows it and takes another


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
        set_choices(self, "refrigerant", refrigerant_choices(access.book))
        set_choices(self, "partner", partner_choices(self.partners.values()))
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
            water_capacity_m3=si_of(of("water_capacity")),
            service_pressure_pa=si_of(of("service_pressure")),
            requalify_by=of("requalify_by"),
            place=of("place", ""),
            can_count=of("can_count"),
            can_content_mg=mg_of(of("can_content")),
            machine_limit_mg=mg_of(of("machine_limit")),
            recycles=bool(of("recycles")),
            paper_number=of("paper_number", ""),
            paper_mass_mg=mg_of(of("paper_mass")),
            typed={name: typed_of(value) for name in quantities if (value := of(name)) is not None},
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
            each_g = (mg_of(of.get("can_limit")) or 0) / 1000
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
