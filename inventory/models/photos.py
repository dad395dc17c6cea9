"""Pictures that the book seals."""

from typing import ClassVar

from django.db import models

from inventory.models.book import Account, Book
from inventory.models.kept import Kept
from inventory.models.lines import Entry
from inventory.models.trace import History


class Photo(Kept):
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
    look = models.CharField(max_length=16, blank=True, default="")  # see `inventory.shelf.camera.look_of`
    taken_before_min = models.IntegerField(null=True, blank=True)  # its line, by the camera's clock, which is not kept
    removed_at = models.DateTimeField(null=True, blank=True)  # the file is gone (personal data); the digest stays

    history = History("book", without=("book",))

    class Meta:
        indexes: ClassVar = [models.Index(fields=["book", "context"], name="photo_context")]

    def __str__(self) -> str:
        return f"photo {self.entry.seq}, {self.shows}"
