"""That the record of one vehicle is read as another's."""

from django.db import models

from inventory.models import Entry
from shop.models.people import User
from shop.models.vehicles import Vehicle
from shop.models.visits import Visit


class Joining(models.Model):
    """Which record goes on under which, who said so, and what is needed to part them again.

    The account's own pointer says the same to the book; here stands which visits went along, what the kept record said
    of its content before, and the line that took out what had been counted twice.
    """

    vehicle = models.OneToOneField(Vehicle, models.PROTECT, related_name="joining")
    kept = models.ForeignKey(Vehicle, models.PROTECT, related_name="joinings")
    visits = models.ManyToManyField(Visit, related_name="joinings")
    content_before = models.CharField(max_length=16)
    entry = models.ForeignKey(Entry, models.PROTECT, null=True, blank=True, related_name="+")
    joined_at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey(User, models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return f"{self.vehicle} is {self.kept}"
