"""Imports of a year kept elsewhere, as they run: waiting, at work, done, or stopped and why."""

from typing import ClassVar

from django.db import models

from shop.models.people import User
from shop.models.workshop import Workshop


class ImportJob(models.Model):
    """One file being imported: how far it is, and every line that cannot be read."""

    WAITING, AT_WORK, DONE, STOPPED = "waiting", "at work", "done", "stopped"
    STATES = (WAITING, AT_WORK, DONE, STOPPED)

    workshop = models.ForeignKey(Workshop, models.PROTECT, related_name="imports")
    started_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    started_at = models.DateTimeField(auto_now_add=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    request_key = models.UUIDField(unique=True)
    file_name = models.CharField(max_length=200)
    pid = models.PositiveIntegerField(null=True, blank=True)  # the process that has it at work
    state = models.CharField(max_length=12, default=WAITING, choices=[(s, s) for s in STATES])
    lines_total = models.PositiveIntegerField(default=0)
    lines_done = models.PositiveIntegerField(default=0)
    lines_new = models.PositiveIntegerField(default=0)
    faults = models.JSONField(default=list, blank=True)  # [[line number, reason], ...], the first thousand
    fault_count = models.PositiveIntegerField(default=0)
    reason = models.TextField(blank=True)

    class Meta:
        ordering: ClassVar = ["-started_at"]

    def __str__(self) -> str:
        return f"{self.file_name}, {self.state}"
