"""Forms of vehicles and customers, and of the plate by which a visit starts: the vehicle that is meant, one that may be
meant, or a new one.
"""

from collections.abc import Iterable, Mapping
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from inventory.measure.marks import same
from inventory.measure.own import Units
from inventory.measure.typed import Typed
from inventory.models import Book
from inventory.models.access import Access
from inventory.output.days import day
from inventory.pages import links
from inventory.pages.fields.day import PastDayField
from inventory.pages.fields.named import Known, NamedField, Said, ask_look_alike, refuse_same
from inventory.pages.fields.quantity import MassField, PressureField, VolumeField
from inventory.pages.forms.act import BookForm, PlainForm
from inventory.pages.forms.parts import choice, refrigerant_groups, set_choices, text, typed_of
from inventory.pages.joined import JoinForm
from shop.models import Customer, Vehicle, Workshop
from shop.pages.forms.stepfields import NumberField, in_this_book
from shop.pages.forms.usual import ask_about_mass, ask_about_tolerance, ask_about_volume
from shop.people import identity
from shop.people.identity import vehicles_like
from shop.visits import usual

LONGEST_PLATE = 20


def plate_field() -> forms.Field:
    """Return the field; what is not in the book yet is added."""
    return NamedField(
        label="Plate",
        help_text="One that is not in the book yet is added.",
        error_messages={"required": "Enter the plate, or what the vehicle is known by."},
        attrs={"list": "plates", "autocapitalize": "characters"},
    )


def judged(form: BookForm, book: Book, plate: str) -> bool:
    """Whether a visit may start by this plate; asks where it may be a misreading of one in the book."""
    if len(plate) > LONGEST_PLATE:
        form.add_error("registration", f"{len(plate)} characters are more than a plate has (20). Shorten it.")
        return False
    found = identity.vehicles_like(book, plate)
    if found and same(found[0].registration, plate):
        return True
    assert form.access is not None  # noqa: S101 - for the type
    try:
        ask_look_alike(plate, known(form.access, found))
    except ValidationError as asked:
        form.add_error("registration", asked)
    return not form.errors


def known(access: Access, found: Iterable[Vehicle], *, by: str = "registration") -> list[Known]:
    """Return what a form says of vehicles that may be meant: the plate or number, when last seen, and the page."""
    return [
        Known(
            getattr(one, by),
            _last_seen(one, by, access.units),
            links.address(access, "vehicle", identity.kept(one).account.number),
        )
        for one in found
    ]


def _last_seen(vehicle: Vehicle, by: str, units: Units) -> str:
    seen_at = getattr(vehicle, "seen_at", None)
    when = f"last seen {day(seen_at, units)}" if seen_at else "not here in a visit yet"
    return when if by == "registration" else f"{vehicle.registration}, {when}"


class JoinVehicleForm(JoinForm):
    """Under which vehicle this one goes on: one that looks like it, or another by its plate."""

    plate = NamedField(label="Or the plate of another", required=False)

    def __init__(self, *args: Any, vehicle: Vehicle, likely: Mapping[int, Vehicle], **options: Any) -> None:
        self.vehicle, self.likely = vehicle, likely
        others = [(number, " ".join(filter(None, (f"{one},", one.make_model)))) for number, one in likely.items()]
        super().__init__(*args, others=[(number, words.rstrip(",")) for number, words in others], **options)
        self.fields["kept"].required = False
        if not likely:
            del self.fields["kept"]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        plate, chosen = cleaned.get("plate"), cleaned.get("kept")
        if not plate and not chosen:
            self.add_error("plate", "Enter the plate of the record that is kept.")
        elif plate and not chosen:
            found = identity.vehicle_meant(self.vehicle.account.book, plate)
            if found is None or found.pk == self.vehicle.pk:
                self.add_error("plate", f"No other vehicle in the book has the plate {plate}.")
            cleaned["vehicle"] = found
        elif chosen:
            cleaned["vehicle"] = self.likely[int(chosen)]
        return cleaned


PLAIN = (
    "registration",
    "vin",
    "make_model",
    "vehicle_class",
    "first_registered",
    "type_approved",
    "refrigerant",
    "original_refrigerant",
    "lubricant",
    "port_type",
    "electric_compressor",
    "volume_source",
)
QUANTITIES = {
    "nameplate": "nameplate_mg",
    "tolerance": "nameplate_tolerance_mg",
    "volume": "volume_m3",
    "weakest_side": "weakest_side_pa",
}
APPROVED_CLASSES = ("car", "van")  # nearest to M1 and N1 class I, of which Directive 2006/40/EC speaks
WEAKEST_SIDE_PA = (3e5, 1.6e7)  # what an evaporator or a system with R-744 may be tested with: common practice
NEW = {"vehicle_class": "car", "evaporators": "1"}
LONGEST = {"registration": 20, "vin": 17, "make_model": 120, "lubricant": 80, "port_type": 80, "volume_source": 120}


class VehicleForm(PlainForm):
    """A vehicle and its air-conditioning system; all but the plate may be left open."""

    registration = NamedField(
        label="Plate",
        help_text="Or what the vehicle is known by.",
        error_messages={"required": "Enter the plate."},
        attrs={"autocapitalize": "characters"},
    )
    customer = forms.ChoiceField(label="Customer", required=False)
    make_model = text("Make and model", required=False)
    vehicle_class = choice("Class", [(one, one) for one in Vehicle.CLASSES])
    vin = NamedField(label="Identification number (VIN)", required=False, attrs={"autocapitalize": "characters"})
    first_registered = PastDayField(label="First registered", required=False)
    type_approved = PastDayField(
        label="Type approved",
        required=False,
        help_text="Of a car or light van first registered from 2011 to 2016: the day on its certificate of conformity.",
    )
    refrigerant = forms.ChoiceField(label="Refrigerant", required=False, help_text="What it is built or converted for.")
    original_refrigerant = forms.ChoiceField(label="Refrigerant it was built for, if another", required=False)
    nameplate = MassField(label="Charge on its label", what="charge on its label", default_unit="g", required=False)
    tolerance = MassField(label="Give or take", what="tolerance", default_unit="g", required=False)
    lubricant = text("Lubricant", required=False)
    oil = MassField(label="Oil in it, by mass", what="mass of oil", units=("g", "oz"), default_unit="g", required=False)
    port_type = text("Ports", required=False)
    evaporators = NumberField(label="Evaporators", what="evaporators", unit="evaporators", whole=True)
    electric_compressor = forms.BooleanField(label="Electric compressor", required=False)
    volume = VolumeField(label="Inside volume", what="inside volume", required=False)
    volume_source = text("Where the volume comes from", required=False)
    weakest_side = PressureField(label="Highest test pressure of its weakest side", required=False)

    def __init__(self, *args: Any, workshop: Workshop, vehicle: Vehicle | None = None, **options: Any) -> None:
        self.workshop, self.vehicle = workshop, vehicle
        given = options.pop("initial", {})
        super().__init__(*args, **options)
        self.initial = {**(_initial(vehicle, self.units) if vehicle else NEW), **given}
        codes = [("", "not known"), *refrigerant_groups(in_this_book(workshop.book))]
        customers = Customer.objects.filter(workshop=workshop, removed_at=None).order_by("name")
        weakest = self.fields["weakest_side"]
        assert isinstance(weakest, PressureField)  # noqa: S101 - for the type
        weakest.known["plausible_pa"] = WEAKEST_SIDE_PA
        set_choices(self, "refrigerant", codes)
        set_choices(self, "original_refrigerant", codes)
        set_choices(self, "customer", [("", "not entered"), *((str(one.pk), one.name) for one in customers)])
        if workshop.jurisdiction != "eu":
            del self.fields["type_approved"]
        self.fields["customer"].created_by = "car-owner"  # type: ignore[attr-defined] # see inventory.pages.comeback

    def clean_registration(self) -> str:
        return self._of_no_other("registration", self.cleaned_data["registration"])

    def clean_vin(self) -> str:
        said = self.cleaned_data["vin"]
        return self._of_no_other("vin", Said.of("".join(said.split()).upper(), said.insisted))

    def _of_no_other(self, name: str, said: str) -> str:
        """Refuse what another vehicle has, ask about what may be a misreading of it; what stood before may stand."""
        if self.access is None or (self.vehicle is not None and same(getattr(self.vehicle, name), said)):
            return said
        found = vehicles_like(self.workshop.book, said, self.vehicle, by=name)
        others = known(self.access, found, by=name)
        refuse_same(said, others, "{} is in the book already. Open that vehicle.")
        ask_look_alike(said, others, leads=True)
        return said

    def clean_evaporators(self) -> Any:
        found = self.cleaned_data["evaporators"]
        if found and not 1 <= found[1] <= 20:
            raise ValidationError("A system has 1 to 20 evaporators. Count them.")
        return found

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        for name, most in LONGEST.items():
            if len(cleaned.get(name) or "") > most:
                self.add_error(name, f"This is longer than {most} characters. Shorten it.")
        self._ask_about(cleaned)
        self._judge_approval(cleaned)
        for name in ("nameplate", "volume"):
            if isinstance(given := cleaned.get(name), Typed) and given.si <= 0:
                self.add_error(name, "Nothing at all cannot be. Leave it empty where it is not known.")
        return cleaned

    def _judge_approval(self, cleaned: dict[str, Any]) -> None:
        """Refuse the approval of a type that came after a vehicle of it, and one of a class that nobody asks it of."""
        approved, registered = cleaned.get("type_approved"), cleaned.get("first_registered")
        if approved is None:
            return
        if cleaned.get("vehicle_class") not in APPROVED_CLASSES:
            sentence = "The type approval is asked of cars and vans alone. Leave it empty, or look at the class."
            self.add_error("type_approved", sentence)
        elif registered is not None and registered < approved:
            self.add_error(
                "type_approved", "A type is approved before a vehicle of it is registered. Look at both days."
            )

    def _ask_about(self, cleaned: dict[str, Any]) -> None:
        """Ask about figures that are not usual of the class, but not again about what stands in the record."""
        vehicle_class, units = str(cleaned.get("vehicle_class") or "car"), self.units

        def is_new(name: str, column: str) -> bool:
            given = cleaned.get(name)
            value = None if given is None else given.mg if column.endswith("_mg") else given.si
            return self.vehicle is None or value != getattr(self.vehicle, column)

        if is_new("nameplate", "nameplate_mg"):
            ask_about_mass(self, "nameplate", usual.of_class(vehicle_class), units)
        if is_new("tolerance", "nameplate_tolerance_mg"):
            ask_about_tolerance(self, "tolerance", "nameplate", units)
        if is_new("volume", "volume_m3"):
            ask_about_volume(self, "volume", vehicle_class, self.workshop)

    def facts(self) -> dict[str, Any]:
        """Return the vehicle's columns; quantities in milligrams and SI, and as they were typed."""
        cleaned = self.cleaned_data
        columns: dict[str, Any] = {name: cleaned[name] for name in PLAIN if name in cleaned}
        columns["customer_id"] = int(cleaned["customer"]) if cleaned["customer"] else None
        columns["oil_g"] = cleaned["oil"].mg / 1000 if cleaned["oil"] else None
        columns["evaporators"] = int(cleaned["evaporators"][1])
        typed: dict[str, str] = {}
        for name, column in QUANTITIES.items():
            given = cleaned[name]
            columns[column] = None if given is None else given.mg if column.endswith("_mg") else given.si
            if given is not None:
                typed[name] = typed_of(given)
        columns["typed"] = typed
        if self.vehicle is not None and columns["volume_m3"] != self.vehicle.volume_m3:
            columns["volume_off_m3"] = None  # how far it may be off was said of the figure before
        return columns


def _initial(vehicle: Vehicle, units: Units) -> dict[str, Any]:
    initial: dict[str, Any] = {name: getattr(vehicle, name) for name in PLAIN}
    initial["customer"] = str(vehicle.customer_id or "")
    initial["evaporators"] = str(vehicle.evaporators)
    initial["oil"] = "" if vehicle.oil_mg is None else " ".join(units.small_mass_typed(vehicle.oil_mg))
    for name, column in QUANTITIES.items():
        value = getattr(vehicle, column)
        if value is not None:
            initial[name] = vehicle.typed.get(name) or _plain(column, value, units)
    return initial


def _plain(column: str, value: float, units: Units) -> str:
    if column.endswith("_mg"):
        return " ".join(units.small_mass_typed(int(value)))
    return f"{value * 1000:.10g} L" if column == "volume_m3" else f"{value / 1000:.10g} kPa absolute"


class OutOfSightForm(BookForm):
    """The vehicle is gone with what is in it."""

    why = text("Why", what="reason", help_text="Scrapped, sold, gone to another workshop.")


class CustomerForm(PlainForm):
    """Whose vehicle it is; no more than is needed."""

    name = text("Name")
    phone = text("Telephone", required=False)
    email = forms.EmailField(
        label="Mail", required=False, error_messages={"invalid": "That is no mail address. Write it as name@place."}
    )
    note = text("Note", required=False, long=True)

    def clean_name(self) -> str:
        name = str(self.cleaned_data["name"])
        if len(name) > 120:
            raise ValidationError("That name is longer than 120 characters. Shorten it.")
        return name

    def clean_phone(self) -> str:
        phone = str(self.cleaned_data["phone"])
        if len(phone) > 60:
            raise ValidationError("That number is longer than 60 characters. Shorten it.")
        return phone


class RemoveCustomerForm(BookForm):
    """Nothing is asked; the read-back page says what goes."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        del self.fields["occurred_at"]
