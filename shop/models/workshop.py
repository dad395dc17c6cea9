"""A workshop: its book, address and local circumstances; the checks of its instruments."""

from typing import ClassVar

from django.db import models
from django.db.models import Q

from inventory.measure.atmosphere import Air, air_at
from inventory.models import Book, Gauge, Scale


class Workshop(models.Model):
    """One workshop; its name and zone stand in its book too, which knows nothing of workshops."""

    JURISDICTIONS = {
        "none": "records only",
        "us": "United States",
        "eu": "European Union",
        "in": "India",
    }
    MASS_UNITS = ("kg", "lb")
    PRESSURE_UNITS = ("bar", "psi", "kPa")
    TEMPERATURE_UNITS = ("C", "F")

    book = models.OneToOneField(Book, models.PROTECT, related_name="workshop")
    slug = models.SlugField(max_length=40, unique=True)
    name = models.CharField(max_length=120)
    address = models.TextField(blank=True)
    phone = models.CharField(max_length=60, blank=True)
    registration = models.CharField(max_length=80, blank=True)
    zone = models.CharField(max_length=64, default="UTC")
    altitude_m = models.FloatField(null=True, blank=True)  # None: nobody has entered it
    jurisdiction = models.CharField(max_length=8, default="none", choices=list(JURISDICTIONS.items()))
    gwp_basis = models.CharField(max_length=8, default="AR4")
    mass_unit = models.CharField(max_length=4, default="kg", choices=[(u, u) for u in MASS_UNITS])
    pressure_unit = models.CharField(max_length=4, default="bar", choices=[(u, u) for u in PRESSURE_UNITS])
    temperature_unit = models.CharField(max_length=2, default="C", choices=[(u, u) for u in TEMPERATURE_UNITS])
    inside_ranges = models.JSONField(default=dict, blank=True)  # {"car": [low m3, high m3]}, those that were changed
    not_asked = models.JSONField(default=list, blank=True)  # keys of `shop.visits.questions` left out of a visit

    set_up = models.JSONField(null=True, blank=True)  # what became of each step of the set-up; None: never began one

    class Meta:
        ordering: ClassVar = ["name"]

    def __str__(self) -> str:
        return self.name

    @property
    def vacuum_unit(self) -> str:
        """The unit in which a vacuum is read here: microns where pressures are in psi."""
        return "micron" if self.pressure_unit == "psi" else "mbar"

    @property
    def small_mass_unit(self) -> str:
        """The unit in which the charge of a vehicle is typed."""
        return "oz" if self.mass_unit == "lb" else "g"

    @property
    def oil_unit(self) -> str:
        """The unit in which oil is typed."""
        return "fl oz" if self.mass_unit == "lb" else "mL"

    @property
    def barometer_unit(self) -> str:
        """The unit in which the air's own pressure is typed."""
        return "inHg" if self.mass_unit == "lb" else "mbar"

    @property
    def air(self) -> Air:
        """The air around it, by its height; a stated range where that is not entered."""
        return air_at(self.altitude_m)


class InstrumentCheck(models.Model):
    """A check of a scale or another instrument, as its paper says; entered once, never changed."""

    scale = models.ForeignKey(Scale, models.PROTECT, null=True, blank=True, related_name="checks")
    gauge = models.ForeignKey(Gauge, models.PROTECT, null=True, blank=True, related_name="checks")
    checked_on = models.DateField()
    until = models.DateField()
    by = models.CharField(max_length=120)
    paper = models.CharField(max_length=80, blank=True)
    actor = models.CharField(max_length=40)  # the handle of who entered it
    entered_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering: ClassVar = ["-checked_on", "-pk"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(scale__isnull=True, gauge__isnull=False) | Q(scale__isnull=False, gauge__isnull=True),
                name="check_of_one_instrument",
            ),
            models.CheckConstraint(condition=Q(until__gt=models.F("checked_on")), name="check_ends_after_it"),
            models.UniqueConstraint(fields=["scale", "checked_on", "until"], name="check_of_scale_once"),
            models.UniqueConstraint(fields=["gauge", "checked_on", "until"], name="check_of_gauge_once"),
        ]

    def __str__(self) -> str:
        return f"{self.checked_on} by {self.by}"
