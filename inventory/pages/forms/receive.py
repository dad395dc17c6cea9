"""The form by which a cylinder comes into the book: what it is, where from, and how its first content is known."""

from datetime import date
from typing import Any

from django.utils import timezone

from inventory.acts.receiving import First
from inventory.book.weighing import Gross
from inventory.measure import uncertainty
from inventory.measure.masses import Mass
from inventory.models import Book, Cylinder, Entry, Partner
from inventory.models.access import Access
from inventory.pages.fields.scale import begin_as_scale_shows
from inventory.pages.forms.partners import SISTER
from inventory.pages.forms.parts import (
    mg_of,
    partner_choices,
    partners_of,
    refrigerant_choices,
    set_choices,
    typed_of,
)
from inventory.pages.forms.receivefields import STAMP_GOOD_TO, ReceiveFields
from inventory.pages.forms.stamps import ask_about_capacity, ask_about_limit, serial_of_no_other, stamped_facts
from inventory.pages.forms.weighing import reading_of, scale_field
from inventory.shelf.origins import (
    BOUGHT,
    CANS,
    COUNT,
    CUSTOMERS,
    EMPTY,
    FIXED_GRADE,
    LIKELY_GRADE,
    PAPER,
    RECLAIMED,
    SINGLE,
    STOOD_HERE,
    TANK,
    Way,
)
from inventory.shelf.plausible import Expected

CREATED_BY = {BOUGHT: "supplier", CUSTOMERS: "customer", RECLAIMED: "reclaimer"}
NO_PAPER_EITHER = (
    "Enter the empty mass, or the mass on the paper: with neither, nothing says how much is inside. A new cylinder has "
    "its net mass printed on it."
)
TARE_BY_PAPER = (
    "Stamped as TW or T on the collar, printed on the box, or measured. Nobody knows it? Leave it empty: it is "
    "reckoned from the mass on the paper."
)


class ReceiveForm(ReceiveFields):
    """A cylinder comes: what it is, where from, and how its first content is known.

    Of all fields here it has those that `origins.Way` asks of this kind from this origin.
    """

    set_aside_words = "More about it"

    def __init__(self, *args: Any, access: Access, way: Way, **options: Any) -> None:
        super().__init__(*args, access=access, **options)
        self.way = way
        self.began = _first_day(access.book)
        asked = {"key", "origin", "kind", *way.up_front, *way.set_aside}
        asked -= set() if self._began_before_today else {"stood_before"}
        for name in set(self.fields) - asked:
            del self.fields[name]
        self.order_fields(["key", *way.up_front, *way.set_aside])  # the key first: its number is judged by it
        self.initial.update(origin=way.origin, kind=way.kind)
        self.fields["serial"].scanned = "new"  # type: ignore[attr-defined] # for the button that scans
        self.initial.setdefault("tare_source", Cylinder.TARE_SOURCES[0])
        self.initial.setdefault("grade", LIKELY_GRADE.get((way.origin, way.kind), ""))
        self._offer(access)
        self._say_what_is_needed()
        if access.units.in_pounds:
            self.initial["tare_limit"] = STAMP_GOOD_TO["lb"]
        begin_as_scale_shows(self, access.units)

    def _offer(self, access: Access) -> None:
        """Fill in the choices that the book has."""
        if "scale" in self.fields:
            self.fields["scale"] = scale_field(access, required=False)
        set_choices(self, "refrigerant", refrigerant_choices(access.book))
        self.partners: dict[str, Partner] = {}
        if "partner" in self.fields:
            others = [one for one in partners_of(access.book) if one.kind != SISTER]
            self.partners = {str(one.account.number): one for one in others}
            set_choices(self, "partner", partner_choices(others))
            self.fields["partner"].created_by = CREATED_BY[self.way.origin]  # type: ignore[attr-defined] # inventory.pages.comeback
        if self.way.origin == EMPTY:
            self.fields["refrigerant"].label, self.fields["grade"].label = "What it is for", "Grade it is for"
        if not self.way.is_filled and "water_capacity" in self.fields:
            self.fields["water_capacity"].optional_words = ""  # type: ignore[attr-defined] # no limit hangs on it
        if self.way.has_paper and "tare" in self.fields:
            tare = self.fields["tare"]
            tare.required, tare.help_text = False, TARE_BY_PAPER
            tare.optional_words = "(or the mass on the paper)"  # type: ignore[attr-defined] # read by _field.html
        if self.way.kind == CANS:
            self.fields["serial"].label = "Number of the lot"
        if self.way.kind == TANK:
            self.fields["serial"].label = "Number of the machine"
            self.fields["machine_limit"].required = self.way.origin != EMPTY

    def _say_what_is_needed(self) -> None:
        """Mark the reading as needed, unless a paper may stand for it or it comes empty."""
        if not {"gross", "scale"} <= set(self.way.up_front):
            return
        for name, missing in (("gross", "Enter the gross mass."), ("scale", "Choose the scale that it stands on.")):
            field = self.fields[name]
            if self.way.has_paper:
                field.optional_words = "(or the mass on the paper)"  # type: ignore[attr-defined]
            else:
                field.required, field.error_messages["required"] = True, missing

    def clean_serial(self) -> str:
        return serial_of_no_other(self)

    @property
    def reads_gauges(self) -> bool:
        """No: its one pressure is stamped."""
        return False

    @property
    def _began_before_today(self) -> bool:
        return self.began is not None and self.began < timezone.localdate()

    @property
    def up_front(self) -> list[Any]:
        """The fields that stand open."""
        return [self[name] for name in self.way.up_front if name in self.fields]

    @property
    def set_aside(self) -> list[Any]:
        """The fields behind "more"."""
        return [self[name] for name in self.way.set_aside if name in self.fields]

    @property
    def set_aside_open(self) -> bool:
        """Whether they stand open: where something is to be put right, or was entered otherwise than it began."""
        if not self.is_bound:
            return False
        return any(
            field.errors or str(self.data.get(field.html_name) or field.initial or "") != str(field.initial or "")
            for field in self.set_aside
        )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        self.weighed: Gross | None = None
        if self.way.origin == STOOD_HERE:
            self._ask_when_it_came(cleaned)
        if self.way.is_weighed:
            self._read_gross()
        if self.way.is_filled:
            ask_about_limit(self)
            ask_about_capacity(self, mg_of(cleaned.get("tare")))
        return cleaned

    def _ask_when_it_came(self, cleaned: dict[str, Any]) -> None:
        if not self._began_before_today:
            return
        if not cleaned.get("stood_before"):
            self.add_error(
                "stood_before",
                f"The book began on {self.began}. A cylinder that comes into it later was bought, brought or turned "
                "up. Did this one stand here before that day? Then say so here, and write in the note why it comes "
                "in only now.",
            )
        elif not cleaned.get("note"):
            self.add_error("note", "Write why this cylinder comes into the book only now.")

    @property
    def basis(self) -> str:
        """How its content is known: as chosen; by the paper where it was not weighed; empty where it holds nothing."""
        of = self.cleaned_data.get
        not_weighed = self.way.is_weighed and of("gross") is None and of("paper_mass") is not None
        return PAPER if of("manner") == PAPER or not_weighed or self.lacks_tare else self.way.basis

    @property
    def lacks_tare(self) -> bool:
        """Whether nobody knows its empty mass, so that the paper says what is inside."""
        by_paper = self.way.is_weighed and self.way.has_paper
        return by_paper and self.cleaned_data.get("tare") is None and "tare" not in self.errors

    def _read_gross(self) -> None:
        of = self.cleaned_data.get
        gross, scale = of("gross"), of("scale")
        if self.basis == SINGLE and gross is None and "gross" not in self.errors:
            self.add_error("gross", "Enter the gross mass. Where it cannot be weighed, the mass on the paper counts.")
        if self.basis == PAPER and of("paper_mass") is None and "paper_mass" not in self.errors:
            self.add_error("paper_mass", NO_PAPER_EITHER if self.lacks_tare else "Enter the mass on the paper.")
        if gross is not None and scale is None and "scale" not in self.errors:
            self.add_error("scale", "Choose the scale that it stands on.")
        settled = isinstance(of("tare"), Mass) or (self.lacks_tare and self._paper_mg)
        if isinstance(gross, Mass) and settled:
            self.weighed = reading_of(self, "gross", self._unsaved(), scale, Expected(net_mg=self._paper_mg))

    @property
    def _paper_mg(self) -> int | None:
        return mg_of(self.cleaned_data.get("paper_mass")) or None

    def _unsaved(self) -> Cylinder:
        """Return the cylinder as far as it is known yet; what is not asked of its kind is not kept."""
        of, way = self.cleaned_data.get, self.way
        quantities = (
            *(() if self.lacks_tare else ("tare", "tare_limit")),
            "water_capacity",
            "filling_limit",
            "service_pressure",
            "can_content",
            "machine_limit",
        )
        return Cylinder(
            serial=of("serial", ""),
            kind=way.kind,
            refrigerant=of("refrigerant", ""),
            grade=FIXED_GRADE.get(way.origin) or of("grade", ""),
            tare_mg=mg_of(of("tare")) or 0,
            tare_u_mg=self._tare_u_mg,
            tare_source=(not self.lacks_tare and of("tare_source")) or Cylinder.NOT_KNOWN,
            place=of("place", ""),
            can_count=of("can_count"),
            can_content_mg=mg_of(of("can_content")),
            paper_number=of("paper_number", ""),
            paper_mass_mg=mg_of(of("paper_mass")),
            typed={name: typed_of(value) for name in quantities if (value := of(name)) is not None},
            **stamped_facts(self),
        )

    @property
    def _tare_u_mg(self) -> int:
        """The standard uncertainty of the empty mass as entered: its limit is rectangular."""
        limit = None if self.lacks_tare else self.cleaned_data.get("tare_limit")
        return round(uncertainty.rectangular(limit.mg / 1000) * 1000) if isinstance(limit, Mass) else 0

    @property
    def chosen_partner(self) -> Partner | None:
        """The partner it comes from."""
        return self.partners.get(self.cleaned_data.get("partner", ""))

    def new(self) -> Cylinder:
        """Return the cylinder, unsaved; only of a form that is valid.

        Its empty mass is as entered, by weighing it with what the paper says, or none.
        """
        return self._unsaved() if self.weighed is None else self.weighed.cylinder

    def first(self) -> First | None:
        """Return how its first content is known; None where it comes empty."""
        basis = self.basis
        if not basis:
            return None
        if basis == SINGLE:
            return First(self.way.origin, SINGLE, self.chosen_partner)
        mass_mg, u = self._mass_of(basis)
        return First(self.way.origin, basis, self.chosen_partner, mass_mg, round(u.total_g * 1000))

    def _mass_of(self, basis: str) -> tuple[int, uncertainty.U]:
        of = self.cleaned_data
        if basis == PAPER:
            return of["paper_mass"].mg, uncertainty.paper(of["paper_mass"].mg / 1000)
        if basis == COUNT:
            each_g = (mg_of(of.get("can_limit")) or 0) / 1000
            return of["can_count"] * of["can_content"].mg, uncertainty.count(of["can_count"], each_g)
        return of["machine_mass"].mg, uncertainty.machine(of["machine_limit"].mg / 1000)

    def content_mg(self) -> int:
        """Return what it holds by this form, in milligrams."""
        first = self.first()
        if first is None:
            return 0
        if first.basis == SINGLE and self.weighed is not None:
            return max(self.weighed.gross_mg - self.weighed.cylinder.tare_mg, 0)
        return first.mass_mg


def _first_day(book: Book) -> date | None:
    return Entry.objects.filter(book=book).order_by("seq").values_list("booked_on", flat=True).first()
