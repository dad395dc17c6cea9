"""Long work on whole files, as it runs: waiting, at work, done, or stopped and why; and how sheets were matched."""

from typing import ClassVar

from django.db import models

from shop.models.people import User
from shop.models.workshop import Workshop


class ImportJob(models.Model):
    """One file being read or written: how far it is, and every line that cannot be taken.

    A *year* is a file of rows in the plain form, a *sheet* one whose columns are matched first, an *export* the whole
    book on its way out.
    """

    YEAR, SHEET, EXPORT = "year", "sheet", "export"
    WHATS = (YEAR, SHEET, EXPORT)
    TO_MATCH, WAITING, AT_WORK, DONE, STOPPED = "to match", "waiting", "at work", "done", "stopped"
    STATES = (TO_MATCH, WAITING, AT_WORK, DONE, STOPPED)

    workshop = models.ForeignKey(Workshop, models.PROTECT, related_name="imports")
    started_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    started_at = models.DateTimeField(auto_now_add=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    request_key = models.UUIDField(unique=True)
    what = models.CharField(max_length=8, default=YEAR, choices=[(what, what) for what in WHATS])
    file_name = models.CharField(max_length=200)
    pid = models.PositiveIntegerField(null=True, blank=True)  # the process that has it at work
    state = models.CharField(max_length=12, default=WAITING, choices=[(s, s) for s in STATES])
    lines_total = models.PositiveIntegerField(default=0)
    lines_done = models.PositiveIntegerField(default=0)
    lines_new = models.PositiveIntegerField(default=0)
    faults = models.JSONField(default=list, blank=True)  # [[line number, reason], ...], the first thousand
    fault_count = models.PositiveIntegerField(default=0)
    reason = models.TextField(blank=True)
    matching = models.JSONField(default=dict, blank=True)  # what was chosen for this file
    told = models.JSONField(default=dict, blank=True)  # what is said of it once it has ended

    class Meta:
        ordering: ClassVar = ["-started_at"]

    def __str__(self) -> str:
        return f"{self.file_name}, {self.state}"


class SheetMatching(models.Model):
    """What the columns of a spreadsheet with these headers were taken for, so that the next one begins with it."""

    workshop = models.ForeignKey(Workshop, models.PROTECT, related_name="matchings")
    headers = models.CharField(max_length=64)  # a digest of them
    matching = models.JSONField(default=dict)
    used_at = models.DateTimeField(auto_now=True)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["workshop", "headers"], name="sheet_matching_once"),
        ]

    def __str__(self) -> str:
        return f"matching of {self.used_at:%Y-%m-%d}"
