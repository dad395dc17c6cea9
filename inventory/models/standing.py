"""What stands of the book: rows of lines that were not reversed. The one place where "not reversed" is written."""

from typing import Self, TypeVar

from django.db.models import Model, Q

from inventory.models.kept import KeptQuerySet

M = TypeVar("M", bound=Model, covariant=True)


class OfLines(KeptQuerySet[M]):
    """Rows that belong to a line of the book: weighings, consignments, analyses."""

    own = Q()  # what a row itself must be to stand

    def standing(self) -> Self:
        """Leave out the rows of lines that were reversed; a row without a line stands."""
        return self.filter(self.own, entry__reversal__isnull=True)

    def standing_at(self, entry_key: int) -> Self:
        """Leave out the rows of later lines than the one of this key, and of lines that were reversed by then."""
        there = Q(entry__isnull=True) | Q(entry_id__lte=entry_key)
        return self.filter(self.own, there).exclude(entry__reversal__pk__lte=entry_key)


class Movements(OfLines[M]):
    """Movements: those of a reversal itself do not stand either."""

    own = Q(reversal=False)

    def touching(self, account: Model) -> Self:
        """Leave the movements that run from or to an account."""
        return self.filter(Q(source=account) | Q(target=account))
