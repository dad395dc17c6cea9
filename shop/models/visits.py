"""Visits: a vehicle's time at the workshop, as a log of dated steps in the order in which they happened."""

from typing import ClassVar

from django.db import models
from django.db.models import Q

from inventory.models import Entry
from inventory.models.kept import Kept
from inventory.models.standing import M, OfLines
from inventory.models.trace import History
from shop.models.people import User
from shop.models.vehicles import Vehicle
from shop.models.workshop import Workshop


class Visit(Kept):
    """One visit, numbered within its workshop."""

    OPEN, WAITING, AWAY, CLOSED = "open", "waiting", "car away unfinished", "handed over"
    STATES = (OPEN, WAITING, AWAY, CLOSED)

    workshop = models.ForeignKey(Workshop, models.PROTECT, related_name="visits")
    number = models.PositiveIntegerField()
    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="visits")
    opened_at = models.DateTimeField()
    closed_at = models.DateTimeField(null=True, blank=True)
    state = models.CharField(max_length=24, default=OPEN, choices=[(s, s) for s in STATES])
    waiting_for = models.CharField(max_length=120, blank=True)
    purpose = models.CharField(max_length=200, blank=True)

    history = History("workshop__book", without=("workshop",))

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["workshop", "number"], name="visit_number_once"),
        ]
        indexes: ClassVar = [  # few among many
            models.Index(fields=["workshop", "number"], condition=~Q(state="handed over"), name="visit_unfinished"),
        ]

    def __str__(self) -> str:
        return f"visit {self.number}"

    @property
    def context(self) -> str:
        """How entries name this visit: a number, no plate."""
        return f"visit:{self.number}"


class Steps(OfLines[M]):
    """Steps of visits: one that was entered anew does not stand either."""

    own = Q(replaced_by__isnull=True)


class Step(Kept):
    """One step of a visit. `data` holds what was typed and its SI values, by the fields of `shop.visits.kinds`."""

    visit = models.ForeignKey(Visit, models.PROTECT, related_name="steps")
    kind = models.CharField(max_length=30)
    occurred_at = models.DateTimeField()
    recorded_at = models.DateTimeField(auto_now_add=True)
    doer = models.ForeignKey(User, models.PROTECT, related_name="steps_done")
    answers = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="steps_answered")
    data = models.JSONField(default=dict, blank=True)
    note = models.TextField(blank=True)
    entry = models.ForeignKey(Entry, models.PROTECT, null=True, blank=True, related_name="steps")
    request_key = models.UUIDField(unique=True)
    # A step is not rewritten: a later one replaces it, and both stay.
    replaces = models.OneToOneField("self", models.PROTECT, null=True, blank=True, related_name="replaced_by")

    history = History("visit__workshop__book", without=("request_key",))
    objects: ClassVar = Steps["Step"].as_manager()

    class Meta:
        ordering: ClassVar = ["occurred_at", "id"]

    def __str__(self) -> str:
        return self.kind

    @property
    def context(self) -> str:
        """How photos name this step: ``visit:12/step:345``."""
        return f"{self.visit.context}/step:{self.pk}"
