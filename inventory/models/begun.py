"""What a reading before was taken for, and what became of it where no second reading came."""

from django.db import models

from inventory.models.lines import Entry, Weighing


class Begun(models.Model):
    """A reading before that stands, or stood, open on the scale.

    `meant` is which way the gas was to go: a plain value of the floor above, such as ``charge``; empty where that was
    not said. `dropped` is the line by which it was let stand by itself: it seals the digest of the reading's line.
    """

    weighing = models.OneToOneField(Weighing, models.PROTECT, related_name="begun")
    meant = models.CharField(max_length=10, blank=True)
    dropped = models.OneToOneField(Entry, models.PROTECT, null=True, blank=True, related_name="drops")

    def __str__(self) -> str:
        return f"{self.weighing}, {'dropped' if self.dropped_id else self.meant or 'begun'}"
