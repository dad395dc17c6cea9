"""What moved on a day and in a month: alike movements added up, so that a year's figures do not grow with the book."""

from typing import Any, ClassVar

from django.db import models
from django.db.models import BigIntegerField, Case, Count, F, FloatField, Sum, Value, When
from django.db.models.functions import Cast, Coalesce, TruncMonth

from inventory.gases.catalogue import MIXED
from inventory.models.book import Book

# What is alike, in the order of the unique key. Accounts are given for mixed content alone, whose composition belongs
# to an account; 0 is none there, and none of the scales.
ALIKE = (
    "whole_month",
    "begins_on",
    "refrigerant",
    "grade",
    "cause",
    "basis",
    "source_kind",
    "target_kind",
    "scale_key",
    "source_key",
    "target_key",
)
ADDED = ("mass_mg", "random_sq", "span_mg", "lines")


class PeriodTotal(models.Model):
    """Alike movements of one day, or of one whole month: a copy, kept by the door of the book and proved by `verify`.

    `random_sq` is the sum of the squared random parts in mg2, exact while it is below 2**53 (some 90 kg squared);
    `span_mg` the sum of the span parts, those of a reversal taken off.
    """

    book = models.ForeignKey(Book, models.PROTECT, related_name="+", db_index=False)
    whole_month = models.BooleanField()
    begins_on = models.DateField()  # the day; of a month its first
    refrigerant = models.CharField(max_length=20)
    grade = models.CharField(max_length=10)
    cause = models.CharField(max_length=30)
    basis = models.CharField(max_length=10)
    source_kind = models.CharField(max_length=12)
    target_kind = models.CharField(max_length=12)
    scale_key = models.BigIntegerField(default=0)
    source_key = models.BigIntegerField(default=0)
    target_key = models.BigIntegerField(default=0)
    mass_mg = models.BigIntegerField()
    random_sq = models.FloatField()
    span_mg = models.BigIntegerField()
    lines = models.BigIntegerField()

    class Meta:
        constraints: ClassVar = [models.UniqueConstraint(fields=["book", *ALIKE], name="period_total_once")]

    def __str__(self) -> str:
        return f"{self.mass_mg} mg {self.refrigerant} {self.cause} from {self.begins_on}"


def fill(movements: Any, totals: Any) -> None:
    """Add up all movements that stand already; for a migration, which brings both as they were then."""
    whole, random, span = BigIntegerField(), Cast("u_random_mg", FloatField()), F("u_span_mg")
    own = {
        "source_kind": F("source__kind"),
        "target_kind": F("target__kind"),
        "scale_key": Coalesce("scale_id", 0, output_field=whole),
    }
    for name in ("source", "target"):
        own[f"{name}_key"] = Case(When(refrigerant=MIXED, then=F(f"{name}_id")), default=0, output_field=whole)
    for whole_month, begins_on in ((False, F("booked_on")), (True, TruncMonth("booked_on"))):
        alike = movements.objects.annotate(whole_month=Value(whole_month), begins_on=begins_on, **own)
        rows = alike.values("book_id", *ALIKE).order_by().annotate(
            mass=Sum("mass_mg", output_field=whole),
            random_sq=Sum(random * random, output_field=FloatField()),
            span_mg=Sum(Case(When(reversal=True, then=-span), default=span, output_field=whole), output_field=whole),
            lines=Count("pk"),
        )  # fmt: skip
        made = (totals(mass_mg=row.pop("mass"), **row) for row in rows.iterator())
        totals.objects.bulk_create(made, batch_size=1_000)
