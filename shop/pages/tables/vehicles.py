"""The lists of vehicles and customers."""

from typing import Any, ClassVar

import django_tables2 as tables
from django import forms
from django.db.models import OuterRef, Q, QuerySet, Subquery

from inventory.measure.own import Units
from inventory.models import Account, Movement
from inventory.models.likeness import written_in
from inventory.pages.forms.parts import set_choices
from inventory.pages.tables.columns import DayColumn, to_page
from inventory.pages.tables.filters import FilterForm
from inventory.pages.tables.table import BookTable
from shop.models import Customer, Vehicle
from shop.pages.middleware import ShopRequest
from shop.visits.gas import held_in


def vehicles_of(request: ShopRequest) -> QuerySet[Vehicle]:
    """Return the vehicles of the book with what it has in them and when they were charged last."""
    own = Account.objects.filter(Q(pk=OuterRef(OuterRef("account"))) | Q(joined_to=OuterRef(OuterRef("account"))))
    charges = Movement.objects.standing().filter(target__in=own.values("pk"), cause="charge")
    latest = charges.order_by("-entry__occurred_at").values("entry__occurred_at")[:1]
    return (
        Vehicle.objects.filter(account__book=request.book, account__joined_to=None)
        .select_related("account", "customer")
        .prefetch_related("account__holdings", "account__joined__holdings")
        .annotate(last_charge=Subquery(latest))
    )


def held_words(vehicle: Vehicle, units: Units) -> str:
    """Return the masses that the book has in a vehicle: "550 g R-134a"; empty where it has none."""
    return ", ".join(f"{units.small_mass_said(mg)} {code}" for code, mg in held_in(vehicle).items())


def content_words(vehicle: Vehicle, units: Units) -> str:
    """Return what is in a vehicle by the book: "at least 550 g R-134a"."""
    held = held_words(vehicle, units)
    if vehicle.content == "known":
        return held or "nothing"
    if not held:
        return vehicle.content if vehicle.content not in ("at least",) else "not known"
    if vehicle.content in ("at least", "unknown"):
        return f"at least {held}"
    return f"{vehicle.content}, {held} left in the book"


class VehicleTable(BookTable):
    """Vehicles and what the book has in them."""

    nouns = ("vehicle", "vehicles")
    registration = tables.Column("Plate", linkify=to_page("vehicle", lambda record: record.account.number))
    make_model = tables.Column("Make and model")
    vehicle_class = tables.Column("Class")
    refrigerant = tables.Column("Refrigerant", default="not known")
    inside = tables.Column("In it by the book", accessor="pk", orderable=False)
    last_charge = DayColumn(verbose_name="Last charge", default="never here")
    leak = tables.Column("Leak yardstick", empty_values=(), orderable=False)

    class Meta:
        order_by = "registration"

    def __init__(self, *args: Any, units: Units, **options: Any) -> None:
        self.units = units
        super().__init__(*args, **options)

    def render_inside(self, record: Vehicle) -> str:
        return content_words(record, self.units)

    def render_leak(self) -> str:
        return "not known"


class VehicleFilter(FilterForm):
    """Which vehicles are shown."""

    text = forms.CharField(label="Text", max_length=60)
    refrigerant = forms.ChoiceField(label="Refrigerant")
    vehicle_class = forms.ChoiceField(label="Class", choices=[("", "all"), *((c, c) for c in Vehicle.CLASSES)])
    customer = forms.ChoiceField(label="Customer")

    def __init__(self, request: ShopRequest) -> None:
        super().__init__(request)
        own = Vehicle.objects.filter(account__book=request.book).exclude(refrigerant="")
        codes = own.order_by("refrigerant").values_list("refrigerant", flat=True).distinct()
        set_choices(self, "refrigerant", [("", "all"), *((one, one) for one in codes)])
        if request.access.may_write:
            names = Customer.objects.filter(workshop=request.workshop).order_by("name").values_list("pk", "name")
            set_choices(self, "customer", [("", "all"), *((str(pk), name) for pk, name in names)])
        else:
            del self.fields["customer"]

    def narrow(self, rows: Any) -> Any:
        chosen = self.chosen
        for name in ("refrigerant", "vehicle_class", "customer"):
            if name in chosen:
                rows = rows.filter(**{name: chosen[name]})
        if said := chosen.get("text"):
            named = written_in("registration_likeness", said) | written_in("vin_likeness", said)
            rows = rows.filter(named | Q(make_model__icontains=said))
        return rows


class CustomerTable(BookTable):
    """Customers; for those who write in the book."""

    nouns = ("customer", "customers")
    may_export = False
    name = tables.Column("Name", linkify=to_page("customer", lambda record: record.pk))
    phone = tables.Column("Telephone", orderable=False)
    email = tables.Column("Mail", orderable=False)
    count = tables.Column("Vehicles", accessor="vehicle_count", attrs={"td": {"class": "num"}})

    class Meta:
        order_by = "name"
        sequence: ClassVar = ("name", "phone", "email", "count")
