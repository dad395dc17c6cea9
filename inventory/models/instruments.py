"""What a workshop reads from: scales, which the book weighs by, and other instruments."""

from decimal import Decimal
from typing import ClassVar

from django.db import models
from django.db.models import Q

from inventory.measure import displays
from inventory.models.book import Book
from inventory.models.kept import Kept
from inventory.models.trace import History


class Scale(Kept):
    """A scale: its step, its stated span error as a fraction and its zero return.

    The step is kept as number and unit of the display, exactly; `step_mg` is it in whole milligrams, for sums and
    digests. Without number and unit it is that many milligrams.
    """

    book = models.ForeignKey(Book, models.PROTECT, related_name="scales")
    number = models.PositiveIntegerField()  # how the digest names it; a guard keeps it
    name = models.CharField(max_length=40)
    step_mg = models.PositiveBigIntegerField()
    step_number = models.CharField(max_length=24, blank=True)  # a decimal, of ounces where the unit is "lb oz"
    step_unit = models.CharField(max_length=5, blank=True, choices=[(unit, unit) for unit in displays.UNITS])
    span = models.FloatField(default=0.001)
    zero_mg = models.PositiveBigIntegerField(null=True, blank=True)
    capacity_mg = models.PositiveBigIntegerField(null=True, blank=True)
    serial = models.CharField(max_length=60, blank=True)
    accuracy_class = models.CharField(max_length=6, blank=True)
    typed = models.JSONField(default=dict, blank=True)  # step, zero and capacity as they were typed
    calibrated_until = models.DateField(null=True, blank=True)
    retired = models.BooleanField(default=False)

    history = History("book", without=("book", "typed"))

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["book", "name"], name="scale_name_once"),
            models.UniqueConstraint(fields=["book", "number"], name="scale_number_once"),
            models.CheckConstraint(condition=Q(step_mg__gt=0), name="scale_step_positive"),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def step(self) -> displays.Step:
        """The step as the display has it."""
        if self.step_number:
            return displays.Step(Decimal(self.step_number), self.step_unit)
        return displays.Step(Decimal(self.step_mg) / 1000, "g")


class Gauge(Kept):
    """A gauge, thermometer, vacuum gauge, identifier or leak detector, with its resolution in SI units."""

    KINDS = ("pressure gauge", "vacuum gauge", "thermometer", "identifier", "leak detector")

    book = models.ForeignKey(Book, models.PROTECT, related_name="gauges")
    name = models.CharField(max_length=40)
    kind = models.CharField(max_length=20, choices=[(kind, kind) for kind in KINDS])
    absolute = models.BooleanField(default=False)
    step = models.FloatField(null=True, blank=True)  # Pa, K, or g a year for a leak detector
    accuracy = models.FloatField(null=True, blank=True)  # limit, same unit
    typed = models.JSONField(default=dict, blank=True)  # the step and accuracy as they were typed
    serial = models.CharField(max_length=60, blank=True)
    calibrated_until = models.DateField(null=True, blank=True)
    retired = models.BooleanField(default=False)

    history = History("book", without=("book", "typed"))

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["book", "name"], name="gauge_name_once"),
        ]

    def __str__(self) -> str:
        return self.name
