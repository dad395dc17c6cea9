"""What stands in a book: numbered lines with their movements and weighings, the balances, and what is noted beside."""

import math
from typing import ClassVar

from django.db import models
from django.db.models import F, Q

from inventory.causes import BASES, CAUSES, GRADES
from inventory.models.book import Account, Book
from inventory.models.instruments import Scale
from inventory.models.kept import Kept
from inventory.models.standing import Movements, OfLines
from inventory.models.trace import History


class Entry(models.Model):
    """One act by one person, a numbered line of the book. Append-only."""

    POST, WEIGH, REVERSE, CLOSE, SEAL = "post", "weigh", "reverse", "close", "seal"
    KINDS = (POST, WEIGH, REVERSE, CLOSE, SEAL)

    book = models.ForeignKey(Book, models.PROTECT, related_name="entries", db_index=False)
    seq = models.PositiveBigIntegerField()
    kind = models.CharField(max_length=8, choices=[(kind, kind) for kind in KINDS])
    occurred_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    booked_on = models.DateField()
    actor = models.CharField(max_length=40)
    context = models.CharField(max_length=60, blank=True)
    request_key = models.UUIDField()
    request_digest = models.CharField(max_length=64)
    reverses = models.OneToOneField("self", models.PROTECT, null=True, blank=True, related_name="reversal")
    seals = models.CharField(max_length=64, blank=True)
    traced = models.CharField(max_length=64, blank=True, default="", db_default="")  # head of the history, see `trace`
    digest = models.CharField(max_length=64)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["book", "seq"], name="entry_seq_once"),
            models.UniqueConstraint(fields=["book", "request_key"], name="entry_key_once"),
            models.CheckConstraint(
                condition=Q(kind="reverse", reverses__isnull=False) | (~Q(kind="reverse") & Q(reverses__isnull=True)),
                name="entry_reverses_when_reverse",
            ),
        ]
        indexes: ClassVar = [
            models.Index(  # it holds all that a statement counts
                fields=["book", "booked_on", "seq", "kind", "occurred_at", "recorded_at", "context"], name="entry_days"
            ),
        ]

    def __str__(self) -> str:
        return f"line {self.seq}"

    @property
    def is_late(self) -> bool:
        """Whether it was written more than a day after it happened."""
        return (self.recorded_at - self.occurred_at).total_seconds() > 86_400


class Movement(models.Model):
    """A mass of one refrigerant and grade from one account to another. Negative only in a reversal. Append-only.

    A foreign key has an index of its own only where no other begins with it: each costs every line that is written.
    """

    entry = models.ForeignKey(Entry, models.PROTECT, related_name="movements", db_index=False)
    line = models.PositiveSmallIntegerField()
    book = models.ForeignKey(Book, models.PROTECT, related_name="+", db_index=False)
    booked_on = models.DateField()
    cause = models.CharField(max_length=30)
    basis = models.CharField(max_length=10)
    source = models.ForeignKey(Account, models.PROTECT, related_name="given", db_index=False)
    target = models.ForeignKey(Account, models.PROTECT, related_name="received", db_index=False)
    refrigerant = models.CharField(max_length=20)
    grade = models.CharField(max_length=10)
    mass_mg = models.BigIntegerField()
    # Two parts of the standard uncertainty: what is chance in each reading, and what is one error of one scale
    # and so adds up line by line in a total.
    u_random_mg = models.PositiveBigIntegerField(default=0)
    u_span_mg = models.PositiveBigIntegerField(default=0)
    scale = models.ForeignKey(Scale, models.PROTECT, null=True, blank=True, related_name="+", db_index=False)
    # For a weighing difference: what its two readings can tell; a finding arises only beyond it.
    can_tell_mg = models.PositiveBigIntegerField(default=0)
    reversal = models.BooleanField(default=False)
    explains = models.ForeignKey(
        "self", models.PROTECT, null=True, blank=True, related_name="explanations", db_index=False
    )

    objects = Movements["Movement"].as_manager()

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["entry", "line"], name="movement_line_once"),
            models.CheckConstraint(condition=~Q(source=F("target")), name="movement_two_accounts"),
            models.CheckConstraint(
                condition=Q(reversal=False, mass_mg__gt=0) | Q(reversal=True, mass_mg__lt=0),
                name="movement_mass_sign",
            ),
            models.CheckConstraint(condition=Q(grade__in=GRADES), name="movement_grade_known"),
            models.CheckConstraint(condition=Q(cause__in=sorted(CAUSES)), name="movement_cause_known"),
            models.CheckConstraint(condition=Q(basis__in=sorted(BASES)), name="movement_basis_known"),
        ]
        indexes: ClassVar = [
            models.Index(
                # The days of a period alone are looked at, however long the book is.
                fields=["book", "booked_on", "cause", "refrigerant", "grade", "mass_mg", "source", "target"],
                name="movement_days",
            ),
            models.Index(fields=["explains"], condition=Q(explains__isnull=False), name="movement_explains"),
            # Few differences are beyond what their readings can tell, and the first page of the day asks for them.
            models.Index(
                fields=["book", "id"],
                condition=Q(cause="weighing-difference", mass_mg__gt=F("can_tell_mg")),
                name="movement_beyond",
            ),
            models.Index(fields=["source", "-id"], name="movement_source"),
            models.Index(fields=["target", "-id"], name="movement_target"),
        ]

    def __str__(self) -> str:
        return f"{self.mass_mg} mg {self.refrigerant} {self.cause}"

    @property
    def u_mg(self) -> float:
        """The standard uncertainty in milligrams (root of the sum of squares of its two parts)."""
        return math.hypot(self.u_random_mg, self.u_span_mg)


class Weighing(models.Model):
    """A reading of one cylinder on one scale, with the tare used at that reading. Append-only."""

    BEFORE, AFTER, CHECK, SINGLE = "before", "after", "check", "single"
    ROLES = (BEFORE, AFTER, CHECK, SINGLE)

    entry = models.ForeignKey(Entry, models.PROTECT, related_name="weighings", db_index=False)
    line = models.PositiveSmallIntegerField()
    account = models.ForeignKey(Account, models.PROTECT, related_name="weighings", db_index=False)
    role = models.CharField(max_length=8)
    gross_mg = models.PositiveBigIntegerField()
    tare_mg = models.PositiveBigIntegerField()
    u_mg = models.PositiveBigIntegerField()
    step_mg = models.PositiveBigIntegerField()
    scale = models.ForeignKey(Scale, models.PROTECT, related_name="weighings", db_index=False)
    typed = models.CharField(max_length=60)
    raw = models.CharField(max_length=160, blank=True, default="")  # what a scale sent by wire, see measure.wire

    objects = OfLines["Weighing"].as_manager()

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["entry", "line"], name="weighing_line_once"),
            models.CheckConstraint(condition=Q(role__in=["before", "after", "check", "single"]), name="weighing_role"),
        ]
        indexes: ClassVar = [models.Index(fields=["account", "-id"], name="weighing_account")]

    def __str__(self) -> str:
        return f"{self.gross_mg} mg gross, {self.role}"

    @property
    def is_open(self) -> bool:
        """Whether it is a reading before that no act has dropped; only of a cylinder's last does it stand open."""
        begun = getattr(self, "begun", None)
        return self.role == self.BEFORE and (begun is None or begun.dropped_id is None)

    @property
    def meant(self) -> str:
        """Which way the gas was to go, as the floor above has said it; empty where it has not."""
        begun = getattr(self, "begun", None)
        return begun.meant if begun else ""

    @property
    def said(self) -> str:
        """The reading as the scale showed it."""
        return self.scale.step.show(int(self.gross_mg))

    @property
    def net_mg(self) -> int:
        """Gross less tare, in milligrams; may be a little below zero for an empty cylinder."""
        return self.gross_mg - self.tare_mg


class Holding(models.Model):
    """The balance of an account per refrigerant (and grade, where it is stock)."""

    account = models.ForeignKey(Account, models.PROTECT, related_name="holdings")
    refrigerant = models.CharField(max_length=20)
    grade = models.CharField(max_length=10, blank=True)
    stock = models.BooleanField()
    mass_mg = models.BigIntegerField()

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["account", "refrigerant", "grade"], name="holding_once"),
            models.CheckConstraint(
                condition=Q(stock=False, grade="") | Q(stock=True, mass_mg__gte=0),
                name="holding_stock_not_negative",
            ),
            models.UniqueConstraint(
                fields=["account"], condition=Q(stock=True) & ~Q(mass_mg=0), name="holding_never_mixed"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.mass_mg} mg {self.refrigerant} {self.grade}"


class Remark(Kept):
    """Free text that belongs to an entry: a note, a reason, a sheet number. Not digested, so it can be scrubbed."""

    entry = models.ForeignKey(Entry, models.PROTECT, related_name="remarks")
    text = models.TextField()

    history = History("entry__book")

    def __str__(self) -> str:
        return self.text


class Analysis(Kept):
    """What an identifier showed of a content: mass fractions by refrigerant code, and of air under ``air``."""

    account = models.ForeignKey(Account, models.PROTECT, related_name="analyses")
    entry = models.ForeignKey(Entry, models.PROTECT, null=True, blank=True, related_name="analyses")
    occurred_at = models.DateTimeField()
    parts = models.JSONField()  # {"R-1234yf": "0.915", "R-134a": "0.080", "air": "0.005"}
    instrument = models.CharField(max_length=80, blank=True)

    history = History("account__book")

    objects: ClassVar = OfLines["Analysis"].as_manager()

    def __str__(self) -> str:
        return f"analysis of {self.account}"
