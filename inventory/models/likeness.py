"""The likeness of a record's number or name, kept beside it, and what is found by it.

The column is indexed and not unique: books from before it may hold one thing twice. That no second one is entered is
decided in the acts, under the book's lock.
"""

from typing import Any, TypeVar

from django.db import models
from django.db.models import Q

from inventory.measure.marks import LONGEST, likeness, same

M = TypeVar("M", bound=models.Model)


class LikenessField(models.CharField):  # type: ignore[type-arg]
    """The likeness of another column, `of`, written whenever the record is saved (name it in `update_fields`)."""

    def __init__(self, *, of: str, **options: Any) -> None:
        self.of = of
        super().__init__(
            **{"max_length": LONGEST, "blank": True, "default": "", "editable": False, "db_index": True, **options}
        )

    def deconstruct(self) -> Any:
        name, path, args, options = super().deconstruct()
        return name, path, args, {**options, "of": self.of}

    def pre_save(self, model_instance: models.Model, add: bool) -> str:
        value = likeness(str(getattr(model_instance, self.of) or ""))
        setattr(model_instance, self.attname, value)
        return value


def alike(rows: "models.QuerySet[M]", column: str, said: str, of: str = "likeness") -> list[M]:
    """Return the rows whose `column` may be meant by `said`, the same ones first; `of` is where its likeness stands."""
    found = list(rows.filter(**{of: likeness(said)})) if likeness(said) else []
    return sorted(found, key=lambda one: (getattr(one, column) != said, not same(getattr(one, column), said)))


def exactly(rows: "models.QuerySet[M]", column: str, said: str, of: str = "likeness") -> list[M]:
    """Return the rows whose `column` is `said` but for case, spaces and signs."""
    return [one for one in alike(rows, column, said, of) if same(getattr(one, column), said)]


def written_in(column: str, said: str) -> Q:
    """Return the rows whose likeness in `column` holds that of `said`; none where nothing of `said` counts."""
    key = likeness(said)
    return Q(**{f"{column}__contains": key}) if key else Q(pk__in=())


def words_in(column: str, said: str) -> Q:
    """Return the rows whose likeness in `column` holds each word of `said`, in any order; none where nothing counts."""
    found = Q()
    for word in {key for word in said.split() if (key := likeness(word))}:
        found &= Q(**{f"{column}__contains": word})
    return found or Q(pk__in=())


def fill(model: Any, *names: str) -> None:
    """Write the likeness fields `names` of all rows of a model, for a migration."""
    fields = [model._meta.get_field(name) for name in names]
    rows = list(model.objects.all())
    for row in rows:
        for field in fields:
            field.pre_save(row, False)
    model.objects.bulk_update(rows, names, batch_size=500)
