"""Customers and their vehicles; that the record of one vehicle is read as another's."""

from typing import ClassVar

from django.db import models

from inventory.models import Account, Entry
from inventory.models.kept import Kept
from inventory.models.likeness import LikenessField
from inventory.models.trace import History
from shop.models.workshop import Workshop


class Customer(models.Model):
    """Whose vehicle it is. Little is kept, and it can be removed without touching the masses."""

    workshop = models.ForeignKey(Workshop, models.PROTECT, related_name="customers")
    name = models.CharField(max_length=120)
    likeness = LikenessField(of="name")
    phone = models.CharField(max_length=60, blank=True)
    phone_likeness = LikenessField(of="phone")
    email = models.EmailField(blank=True)
    note = models.TextField(blank=True)
    removed_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return self.name


class Vehicle(Kept):
    """A vehicle and its air-conditioning system. `vin` check digits are information, not a condition."""

    CLASSES = ("car", "van", "bus", "truck", "off-road", "refrigerated body", "other")
    CONTENT = ("unknown", "known", "at least", "part recovered", "evacuated", "open")

    account = models.OneToOneField(Account, models.PROTECT, related_name="vehicle")
    customer = models.ForeignKey(Customer, models.PROTECT, null=True, blank=True, related_name="vehicles")
    registration = models.CharField(max_length=20)
    registration_likeness = LikenessField(of="registration")
    vin = models.CharField(max_length=17, blank=True)
    vin_likeness = LikenessField(of="vin")
    make_model = models.CharField(max_length=120, blank=True)
    make_model_likeness = LikenessField(of="make_model")
    vehicle_class = models.CharField(max_length=20, default="car", choices=[(c, c) for c in CLASSES])
    first_registered = models.DateField(null=True, blank=True)
    type_approved = models.DateField(null=True, blank=True)
    refrigerant = models.CharField(max_length=20, blank=True)  # what the system is built or converted for
    original_refrigerant = models.CharField(max_length=20, blank=True)
    nameplate_mg = models.PositiveBigIntegerField(null=True, blank=True)
    nameplate_tolerance_mg = models.PositiveBigIntegerField(null=True, blank=True)
    lubricant = models.CharField(max_length=80, blank=True)
    oil_g = models.FloatField(null=True, blank=True)
    port_type = models.CharField(max_length=80, blank=True)
    evaporators = models.PositiveSmallIntegerField(default=1)
    electric_compressor = models.BooleanField(default=False)
    volume_m3 = models.FloatField(null=True, blank=True)
    volume_off_m3 = models.FloatField(null=True, blank=True)  # how far it may be off, either way
    volume_source = models.CharField(max_length=120, blank=True)
    weakest_side_pa = models.FloatField(null=True, blank=True)  # allowed test pressure, absolute
    content = models.CharField(max_length=16, default="unknown", choices=[(c, c) for c in CONTENT])
    typed = models.JSONField(default=dict, blank=True)

    history = History("account__book", without=("typed", "customer"))

    class Meta:
        ordering: ClassVar = ["registration"]

    def __str__(self) -> str:
        return self.registration

    @property
    def oil_mg(self) -> int | None:
        """The oil in it by mass, None where it was not entered."""
        return None if self.oil_g is None else round(self.oil_g * 1000)

    @property
    def label_is_older(self) -> bool:
        """Whether the mass on its label is one of the refrigerant that it was built for, and not of that it has now."""
        return self.nameplate_mg is not None and self.original_refrigerant not in ("", self.refrigerant)


class Conversion(Kept):
    """A vehicle's change from one refrigerant to another, done in a visit."""

    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="conversions")
    visit = models.ForeignKey("shop.Visit", models.PROTECT, null=True, blank=True, related_name="conversions")
    done_on = models.DateField()
    from_refrigerant = models.CharField(max_length=20)
    to_refrigerant = models.CharField(max_length=20)
    details = models.JSONField(default=dict, blank=True)

    history = History("vehicle__account__book")

    def __str__(self) -> str:
        return f"{self.from_refrigerant} to {self.to_refrigerant}"


class Joining(Kept):
    """Which record goes on under which, who said so, and what is needed to part them again.

    The account's own pointer says the same to the book; here stands which visits went along, what the kept record said
    of its content before, and the line that took out what had been counted twice.
    """

    vehicle = models.OneToOneField(Vehicle, models.PROTECT, related_name="joining")
    kept = models.ForeignKey(Vehicle, models.PROTECT, related_name="joinings")
    visits = models.ManyToManyField("shop.Visit", related_name="joinings")
    content_before = models.CharField(max_length=16)
    entry = models.ForeignKey(Entry, models.PROTECT, null=True, blank=True, related_name="+")
    joined_at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey("shop.User", models.PROTECT, related_name="+")

    history = History("vehicle__account__book")

    def __str__(self) -> str:
        return f"{self.vehicle} is {self.kept}"
