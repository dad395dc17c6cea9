"""A workshop: its book, address and local circumstances; the checks of its instruments."""

from typing import ClassVar

from django.db import models
from django.db.models import Q

from inventory.measure import own
from inventory.measure.atmosphere import Air, air_at
from inventory.measure.own import Units
from inventory.models import Book, Gauge, Scale
from inventory.models.kept import Kept
from inventory.models.trace import History
from inventory.output import stock


class Workshop(Kept):
    """One workshop; its name and zone stand in its book too, which knows nothing of workshops."""

    JURISDICTIONS = {
        "none": "records only",
        "us": "United States",
        "eu": "European Union",
        "in": "India",
    }

    book = models.OneToOneField(Book, models.PROTECT, related_name="workshop")
    slug = models.SlugField(max_length=40, unique=True)
    name = models.CharField(max_length=120)
    address = models.TextField(blank=True)
    phone = models.CharField(max_length=60, blank=True)
    registration = models.CharField(max_length=80, blank=True)
    state_licence = models.CharField(max_length=80, blank=True, default="")  # of a state's own law on repair shops
    state_licence_until = models.DateField(null=True, blank=True)
    no_state_licence = models.BooleanField(default=False)  # the state asks for none
    zone = models.CharField(max_length=64, default="UTC")
    altitude_m = models.FloatField(null=True, blank=True)  # None: nobody has entered it
    jurisdiction = models.CharField(max_length=8, default="none", choices=list(JURISDICTIONS.items()))
    gwp_basis = models.CharField(max_length=8, default="AR4")
    mass_unit = models.CharField(max_length=5, default="kg", choices=list(own.MASSES.items()))
    pressure_unit = models.CharField(max_length=4, default="bar", choices=list(own.PRESSURES.items()))
    vacuum_unit = models.CharField(max_length=6, default="mbar", choices=list(own.VACUUMS.items()))
    temperature_unit = models.CharField(max_length=2, default="C", choices=list(own.TEMPERATURES.items()))
    volume_unit = models.CharField(max_length=5, default="L", choices=list(own.VOLUMES.items()))
    day_order = models.CharField(max_length=3, default="ymd", choices=list(own.DAYS.items()))
    paper = models.CharField(max_length=8, default=stock.A4, choices=stock.SHEET_CHOICES)  # of every paper
    labels = models.CharField(max_length=8, default=stock.ON_SHEET, choices=stock.LABEL_CHOICES)
    inside_ranges = models.JSONField(default=dict, blank=True)  # {"car": [low m3, high m3]}, those that were changed
    not_asked = models.JSONField(default=list, blank=True)  # keys of `shop.visits.questions` left out of a visit
    second_factor = models.BooleanField(default=False)  # whoever comes signs in with one
    here_alone = models.BooleanField(default=False)  # used on its machine alone: papers bear that without being asked

    set_up = models.JSONField(null=True, blank=True)  # what became of each step of the set-up; None: never began one

    history = History("book", without=("book", "set_up", "slug", "here_alone"))

    class Meta:
        ordering: ClassVar = ["name"]

    def __str__(self) -> str:
        return self.name

    @property
    def units(self) -> Units:
        """The units of the workshop: of its papers, and of its people where they have chosen no others."""
        return Units(
            mass=self.mass_unit,
            pressure=self.pressure_unit,
            vacuum=self.vacuum_unit,
            temperature=self.temperature_unit,
            volume=self.volume_unit,
            days=self.day_order,
            atmosphere_pa=self.air.pressure_pa,
        )

    @property
    def air(self) -> Air:
        """The air around it, by its height; a stated range where that is not entered."""
        return air_at(self.altitude_m)


class InstrumentCheck(Kept):
    """A check of a scale or another instrument, as its paper says; entered once, never changed."""

    scale = models.ForeignKey(Scale, models.PROTECT, null=True, blank=True, related_name="checks")
    gauge = models.ForeignKey(Gauge, models.PROTECT, null=True, blank=True, related_name="checks")
    checked_on = models.DateField()
    until = models.DateField()
    by = models.CharField(max_length=120)
    paper = models.CharField(max_length=80, blank=True)
    actor = models.CharField(max_length=40)  # the handle of who entered it
    entered_at = models.DateTimeField(auto_now_add=True)

    history = History("scale__book or gauge__book")

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
