"""The mass book and what stands on its shelf.

Vocabulary: a **book** belongs to one workshop; an **entry** is one numbered line of it, with **movements** (mass
from one **account** to another) and **weighings**; a **holding** is the balance of an account, a copy that `verify`
proves. Mass is whole milligrams. Entries, movements and weighings are append-only in the database (`guards`);
they are written by `ledger` alone.
"""

import math
import secrets
import uuid
from datetime import date
from decimal import Decimal
from typing import ClassVar

from django.db import models
from django.db.models import F, Q

from inventory.causes import ACCOUNT_KINDS, BASES, CAUSES, GRADES, SINGLE_KINDS
from inventory.measure import displays
from inventory.measure.codes import ALPHABET, check_character
from inventory.models.likeness import LikenessField
from inventory.models.standing import Movements, OfLines


def label_code() -> str:
    """Return a random label code: five characters and a check character (weighted sum modulo 32)."""
    body = "".join(secrets.choice(ALPHABET) for _ in range(5))
    return body + check_character(body)


class Book(models.Model):
    """One workshop's mass book: the head of its chain and the lock of every act. It only goes forward."""

    uid = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    name = models.CharField(max_length=120, unique=True)
    zone = models.CharField(max_length=64, default="UTC")
    head_seq = models.PositiveBigIntegerField(default=0)
    head_digest = models.CharField(max_length=64, default="", blank=True)
    closed_through = models.DateField(null=True, blank=True)

    def __str__(self) -> str:
        return self.name


class Account(models.Model):
    """A number, a kind and a label in a book. The label is a copy for reading: mutable and not digested."""

    book = models.ForeignKey(Book, models.PROTECT, related_name="accounts")
    number = models.PositiveIntegerField()
    kind = models.CharField(max_length=12, choices=[(kind, kind) for kind in ACCOUNT_KINDS])
    label = models.CharField(max_length=120, blank=True)
    # Two records of one vehicle or partner: the lines stay where they are, and this one is read as part of that one.
    joined_to = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="joined")

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["book", "number"], name="account_number_once"),
            models.UniqueConstraint(
                fields=["book", "kind"], condition=Q(kind__in=SINGLE_KINDS), name="account_single_kinds"
            ),
            models.CheckConstraint(condition=Q(kind__in=ACCOUNT_KINDS), name="account_kind_known"),
            models.CheckConstraint(condition=~Q(joined_to=F("pk")), name="account_joined_to_another"),
        ]

    def __str__(self) -> str:
        return self.label or self.kind

    def together(self) -> "models.QuerySet[Account]":
        """Return the account and those that are joined to it."""
        return Account.objects.filter(Q(pk=self.pk) | Q(joined_to=self.pk))

    @property
    def reference(self) -> str:
        """The account as the digest names it, such as ``air:2``."""
        return f"{self.kind}:{self.number}"


class Entry(models.Model):
    """One act by one person, a numbered line of the book. Append-only."""

    POST, WEIGH, REVERSE, CLOSE, SEAL = "post", "weigh", "reverse", "close", "seal"
    KINDS = (POST, WEIGH, REVERSE, CLOSE, SEAL)

    book = models.ForeignKey(Book, models.PROTECT, related_name="entries")
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
        indexes: ClassVar = [models.Index(fields=["book", "booked_on"], name="entry_day")]

    def __str__(self) -> str:
        return f"line {self.seq}"

    @property
    def is_late(self) -> bool:
        """Whether it was written more than a day after it happened."""
        return (self.recorded_at - self.occurred_at).total_seconds() > 86_400


class Movement(models.Model):
    """A mass of one refrigerant and grade from one account to another. Negative only in a reversal. Append-only."""

    entry = models.ForeignKey(Entry, models.PROTECT, related_name="movements")
    line = models.PositiveSmallIntegerField()
    book = models.ForeignKey(Book, models.PROTECT, related_name="+")
    booked_on = models.DateField()
    cause = models.CharField(max_length=30)
    basis = models.CharField(max_length=10)
    source = models.ForeignKey(Account, models.PROTECT, related_name="given")
    target = models.ForeignKey(Account, models.PROTECT, related_name="received")
    refrigerant = models.CharField(max_length=20)
    grade = models.CharField(max_length=10)
    mass_mg = models.BigIntegerField()
    # Two parts of the standard uncertainty: what is chance in each reading, and what is one error of one scale
    # and so adds up line by line in a total.
    u_random_mg = models.PositiveBigIntegerField(default=0)
    u_span_mg = models.PositiveBigIntegerField(default=0)
    scale = models.ForeignKey("Scale", models.PROTECT, null=True, blank=True, related_name="+")
    # For a weighing difference: what its two readings can tell; a finding arises only beyond it.
    can_tell_mg = models.PositiveBigIntegerField(default=0)
    reversal = models.BooleanField(default=False)
    explains = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="explanations")

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
                # It holds all that a statement sums, so that a year is read from the index alone.
                fields=["book", "refrigerant", "grade", "cause", "booked_on", "mass_mg", "source", "target"],
                name="movement_statement",
            ),
            # Differences are few among many lines, and the first page of the day asks for them.
            models.Index(fields=["book", "-id"], condition=Q(cause="weighing-difference"), name="movement_difference"),
            models.Index(fields=["source", "-id"], name="movement_source"),
            models.Index(fields=["target", "-id"], name="movement_target"),
        ]

    def __str__(self) -> str:
        return f"{self.mass_mg} mg {self.refrigerant} {self.cause}"

    @property
    def u_mg(self) -> float:
        """The standard uncertainty in milligrams (root of the sum of squares of its two parts)."""
        return math.hypot(self.u_random_mg, self.u_span_mg)


class Scale(models.Model):
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


class Gauge(models.Model):
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

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["book", "name"], name="gauge_name_once"),
        ]

    def __str__(self) -> str:
        return self.name


class Weighing(models.Model):
    """A reading of one cylinder on one scale, with the tare used at that reading. Append-only."""

    BEFORE, AFTER, CHECK, SINGLE = "before", "after", "check", "single"
    ROLES = (BEFORE, AFTER, CHECK, SINGLE)

    entry = models.ForeignKey(Entry, models.PROTECT, related_name="weighings")
    line = models.PositiveSmallIntegerField()
    account = models.ForeignKey(Account, models.PROTECT, related_name="weighings")
    role = models.CharField(max_length=8)
    gross_mg = models.PositiveBigIntegerField()
    tare_mg = models.PositiveBigIntegerField()
    u_mg = models.PositiveBigIntegerField()
    step_mg = models.PositiveBigIntegerField()
    scale = models.ForeignKey(Scale, models.PROTECT, related_name="weighings")
    typed = models.CharField(max_length=60)

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


class Remark(models.Model):
    """Free text that belongs to an entry: a note, a reason, a sheet number. Not digested, so it can be scrubbed."""

    entry = models.ForeignKey(Entry, models.PROTECT, related_name="remarks")
    text = models.TextField()

    def __str__(self) -> str:
        return self.text


class Analysis(models.Model):
    """What an identifier showed of a content: mass fractions by refrigerant code, and of air under ``air``."""

    account = models.ForeignKey(Account, models.PROTECT, related_name="analyses")
    entry = models.ForeignKey(Entry, models.PROTECT, null=True, blank=True, related_name="analyses")
    occurred_at = models.DateTimeField()
    parts = models.JSONField()  # {"R-1234yf": "0.915", "R-134a": "0.080", "air": "0.005"}
    instrument = models.CharField(max_length=80, blank=True)

    objects = OfLines["Analysis"].as_manager()

    def __str__(self) -> str:
        return f"analysis of {self.account}"


class Partner(models.Model):
    """A supplier, reclaimer, destruction facility, sister workshop or other party outside."""

    KINDS = ("supplier", "reclaimer", "destruction facility", "sister workshop", "customer", "other")

    account = models.OneToOneField(Account, models.PROTECT, related_name="partner")
    name = models.CharField(max_length=120)
    likeness = LikenessField(of="name")
    kind = models.CharField(max_length=24, choices=[(kind, kind) for kind in KINDS])
    address = models.TextField(blank=True)
    registration = models.CharField(max_length=80, blank=True)
    contact = models.CharField(max_length=120, blank=True)
    sister = models.ForeignKey(Book, models.PROTECT, null=True, blank=True, related_name="+")
    retired = models.BooleanField(default=False)

    def __str__(self) -> str:
        return self.name


class Cylinder(models.Model):
    """A container of refrigerant. What it holds is in the book; here is what it is and where."""

    SINGLE_TRIP, REFILLABLE, RECOVERY, TANK, CANS = (
        "single-trip",
        "refillable",
        "recovery",
        "machine tank",
        "can lot",
    )
    KINDS = (SINGLE_TRIP, REFILLABLE, RECOVERY, TANK, CANS)
    # What the shelf says of it; "on the scale", "heel only" and "at its limit" follow from the book.
    STATES = ("ready", "suspect", "put aside", "away", "done with")
    NOT_KNOWN, RECKONED = "not known", "reckoned from the paper"
    TARE_SOURCES = ("stamped", "supplier", "measured evacuated", "measured with content", NOT_KNOWN, RECKONED)

    account = models.OneToOneField(Account, models.PROTECT, related_name="cylinder")
    serial = models.CharField(max_length=60)
    likeness = LikenessField(of="serial")
    kind = models.CharField(max_length=12, choices=[(kind, kind) for kind in KINDS])
    refrigerant = models.CharField(max_length=20)  # what it is meant for; the book says what is in it
    grade = models.CharField(max_length=10)
    tare_mg = models.PositiveBigIntegerField()
    tare_u_mg = models.PositiveBigIntegerField(default=0)
    tare_source = models.CharField(max_length=24, choices=[(s, s) for s in TARE_SOURCES], default="stamped")
    water_capacity_m3 = models.FloatField(null=True, blank=True)
    filling_limit_mg = models.PositiveBigIntegerField(null=True, blank=True)  # net, as stamped on it
    service_pressure_pa = models.FloatField(null=True, blank=True)
    requalify_by = models.DateField(null=True, blank=True)
    state = models.CharField(max_length=12, choices=[(s, s) for s in STATES], default="ready")
    place = models.CharField(max_length=80, blank=True)
    typed = models.JSONField(default=dict, blank=True)  # tare, water capacity, pressure as they were typed
    can_count = models.PositiveIntegerField(null=True, blank=True)
    can_content_mg = models.PositiveBigIntegerField(null=True, blank=True)
    # For a machine tank: the limit of error of the machine's own display.
    machine_limit_mg = models.PositiveBigIntegerField(null=True, blank=True)
    recycles = models.BooleanField(default=False)  # the machine is recorded as recycling this refrigerant
    paper_number = models.CharField(max_length=60, blank=True)
    paper_mass_mg = models.PositiveBigIntegerField(null=True, blank=True)
    label = models.CharField(max_length=6, unique=True, default=label_code, editable=False)

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(condition=Q(grade__in=GRADES), name="cylinder_grade_known"),
        ]

    def __str__(self) -> str:
        return self.serial

    @property
    def is_weighed(self) -> bool:
        """Whether it stands on a scale: cans are counted, a machine's tank is read on the machine."""
        return self.kind not in (self.TANK, self.CANS)

    @property
    def lacks_tare(self) -> bool:
        """Whether its empty mass is still to be reckoned: it came by a paper, unweighed, and nobody knew one."""
        by_paper = self.is_weighed and self.paper_mass_mg is not None
        return by_paper and not self.tare_mg and self.tare_source == self.NOT_KNOWN

    @property
    def is_filled(self) -> bool:
        """Whether gas is ever filled into it by weight, so that a limit and a test date matter."""
        return self.kind in (self.REFILLABLE, self.RECOVERY)

    def is_past_requalification(self, day: date) -> bool:
        """Whether its test date has passed on `day`; it may be emptied then, not filled."""
        return self.requalify_by is not None and self.requalify_by < day


class Tare(models.Model):
    """One version of a cylinder's tare: the value, its source and from when it was used."""

    cylinder = models.ForeignKey(Cylinder, models.PROTECT, related_name="tares")
    tare_mg = models.PositiveBigIntegerField()
    u_mg = models.PositiveBigIntegerField(default=0)
    source = models.CharField(max_length=24)
    since = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.tare_mg} mg, {self.source}"


class Consignment(models.Model):
    """Gas sent away: the purpose, the papers, and what the receiver accepted (noted beside, never posted)."""

    PURPOSES = ("reclaim", "destruction", "return to supplier", "sale", "sister workshop", "other")

    entry = models.OneToOneField(Entry, models.PROTECT, related_name="consignment")
    number = models.CharField(max_length=40)
    purpose = models.CharField(max_length=24, choices=[(p, p) for p in PURPOSES])
    partner = models.ForeignKey(Partner, models.PROTECT, related_name="consignments")
    cylinder = models.ForeignKey(Cylinder, models.PROTECT, related_name="consignments")
    paper_number = models.CharField(max_length=60, blank=True)
    accepted_mg = models.PositiveBigIntegerField(null=True, blank=True)
    accepted_oil_mg = models.PositiveBigIntegerField(null=True, blank=True)
    accepted_on = models.DateField(null=True, blank=True)

    objects = OfLines["Consignment"].as_manager()

    def __str__(self) -> str:
        return self.number


class AirCheck(models.Model):
    """A cylinder judged for air by pressure and temperature at rest. Pascal (pressure absolute), kelvin, seconds."""

    account = models.ForeignKey(Account, models.PROTECT, related_name="air_checks")
    occurred_at = models.DateTimeField()
    recorded_at = models.DateTimeField(auto_now_add=True)
    actor = models.CharField(max_length=40)
    request_key = models.UUIDField(unique=True)
    refrigerant = models.CharField(max_length=20)
    pressure_pa = models.FloatField()
    temperature_k = models.FloatField()
    waited_s = models.FloatField(null=True, blank=True)
    shaded = models.BooleanField(null=True, blank=True)
    held_mg = models.BigIntegerField()  # what the book had in the cylinder then
    typed = models.JSONField(default=dict, blank=True)
    verdict = models.CharField(max_length=40)
    words = models.TextField()
    air_ppm = models.FloatField(null=True, blank=True)  # by mass

    class Meta:
        ordering: ClassVar = ["-occurred_at", "-id"]

    def __str__(self) -> str:
        return f"air check of {self.account}"


class Photo(models.Model):
    """A picture of a scale, plate, label, gauge or joint: the file lies in the media folder, its digest in the chain.

    `entry` is the line that seals it. What it shows is a line of the book (`line`), an account (`account`) or a visit's
    step, which is named by the plain value `context`, such as ``visit:12/step:345``.
    """

    SHOWS = ("scale", "plate", "label", "gauge", "joint", "paper", "other")

    book = models.ForeignKey(Book, models.PROTECT, related_name="photos")
    entry = models.OneToOneField(Entry, models.PROTECT, related_name="photo")
    line = models.ForeignKey(Entry, models.PROTECT, null=True, blank=True, related_name="photos")
    account = models.ForeignKey(Account, models.PROTECT, null=True, blank=True, related_name="photos")
    context = models.CharField(max_length=60, blank=True)
    shows = models.CharField(max_length=8, choices=[(what, what) for what in SHOWS])
    digest = models.CharField(max_length=64)  # SHA-256 of the file as kept
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    size = models.PositiveIntegerField()  # bytes
    removed_at = models.DateTimeField(null=True, blank=True)  # the file is gone (personal data); the digest stays

    class Meta:
        indexes: ClassVar = [models.Index(fields=["book", "context"], name="photo_context")]

    def __str__(self) -> str:
        return f"photo {self.entry.seq}, {self.shows}"
