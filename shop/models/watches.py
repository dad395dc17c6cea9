"""Watches: holds and pulls that are under way at a vehicle. Nothing of one counts until its step is written."""

from typing import ClassVar

from django.db import models
from django.db.models import Q

from shop.models.visits import Step, Visit


class Watch(models.Model):
    """A step of a visit whose clock runs: no line of the book and no step, until the one is written that ends it.

    `data` holds instruments as a step does. One that has ended without a step was dropped; it is kept so that the form
    that started it cannot start it again.
    """

    visit = models.ForeignKey(Visit, models.PROTECT, related_name="watches")
    kind = models.CharField(max_length=30)  # of the step that it becomes
    started_at = models.DateTimeField()
    started_by = models.CharField(max_length=40)  # a handle
    planned_s = models.FloatField()
    data = models.JSONField(default=dict, blank=True)
    request_key = models.UUIDField(unique=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    dropped_by = models.CharField(max_length=40, blank=True)  # a handle
    step = models.OneToOneField(Step, models.PROTECT, null=True, blank=True, related_name="watch")

    class Meta:
        ordering: ClassVar = ["started_at", "id"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["visit", "kind"], condition=Q(ended_at=None), name="watch_runs_once"),
        ]

    def __str__(self) -> str:
        return f"{self.kind} under way"


class WatchReading(models.Model):
    """One reading of a watch: `data` has pressure and temperature as a step keeps them, as typed and as read."""

    watch = models.ForeignKey(Watch, models.PROTECT, related_name="readings")
    taken_at = models.DateTimeField()
    taken_by = models.CharField(max_length=40)  # a handle
    data = models.JSONField(default=dict)
    request_key = models.UUIDField(unique=True)
    dropped = models.BooleanField(default=False)

    class Meta:
        ordering: ClassVar = ["taken_at", "id"]

    def __str__(self) -> str:
        return f"a reading of {self.watch_id}"
