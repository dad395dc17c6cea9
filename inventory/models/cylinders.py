"""What stands on the shelf, its empty masses and its checks for air."""

import secrets
from datetime import date
from typing import Any, ClassVar

from django.db import models
from django.db.models import Q

from inventory.causes import GRADES
from inventory.measure.codes import ALPHABET, check_character
from inventory.models.book import Account
from inventory.models.kept import Kept
from inventory.models.likeness import LikenessField
from inventory.models.trace import History


def label_code() -> str:
    """Return a random label code: five characters and a check character (weighted sum modulo 32)."""
    body = "".join(secrets.choice(ALPHABET) for _ in range(5))
    return body + check_character(body)


class Cylinder(Kept):
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
    GONE = ("away", "done with")  # no more on the floor
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
    certified_on = models.DateField(null=True, blank=True)  # of a machine, to the authority
    # Of a single-trip cylinder: when its heel was removed, and the statement that says so.
    heel_removed_on = models.DateField(null=True, blank=True)
    heel_statement = models.CharField(max_length=120, blank=True, default="")
    paper_number = models.CharField(max_length=60, blank=True)
    paper_likeness = LikenessField(of="paper_number")
    paper_mass_mg = models.PositiveBigIntegerField(null=True, blank=True)
    label = models.CharField(max_length=6, unique=True, default=label_code, editable=False)

    history = History("account__book", without=("typed",))

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(condition=Q(grade__in=GRADES), name="cylinder_grade_known"),
        ]

    def __str__(self) -> str:
        return self.serial

    def save(self, **how: Any) -> None:
        """Save; a new one that by chance has the code of another's label gets a new code first."""
        while self._state.adding and Cylinder.objects.filter(label=self.label).exists():
            self.label = label_code()
        super().save(**how)

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
    def is_gone(self) -> bool:
        """Whether it does not stand here: away, or done with."""
        return self.state in self.GONE

    @property
    def is_filled(self) -> bool:
        """Whether gas is ever filled into it by weight, so that a limit and a test date matter."""
        return self.kind in (self.REFILLABLE, self.RECOVERY)

    def is_past_requalification(self, day: date) -> bool:
        """Whether its test date has passed on `day`; it may be emptied then, not filled."""
        return self.requalify_by is not None and self.requalify_by < day

    def turn(self, state: str) -> None:
        """Let the shelf say another state of it from now on, and keep that."""
        self.state = state
        self.save(update_fields=["state"])


class Tare(Kept):
    """One version of a cylinder's tare: the value, its source and from when it was used."""

    cylinder = models.ForeignKey(Cylinder, models.PROTECT, related_name="tares")
    tare_mg = models.PositiveBigIntegerField()
    u_mg = models.PositiveBigIntegerField(default=0)
    source = models.CharField(max_length=24)
    since = models.DateTimeField()

    history = History("cylinder__account__book")

    def __str__(self) -> str:
        return f"{self.tare_mg} mg, {self.source}"


class AirCheck(Kept):
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

    history = History("account__book", without=("request_key",))

    class Meta:
        ordering: ClassVar = ["-occurred_at", "-id"]

    def __str__(self) -> str:
        return f"air check of {self.account}"
