"""States of records written anew, by a migration that gives them another column: their history says it from then on."""

from collections.abc import Iterable
from typing import Any, cast

from django.apps import apps as now
from django.db.models import Q

from inventory.models.kept import write_first
from inventory.models.trace import columns_of, said_of

AT_ONCE = 2_000


def write_anew(apps: Any, schema_editor: Any, app: str, models: Iterable[str]) -> None:
    """Write what each record of these models says as it stands in the midst of a migration, book by book."""
    using = schema_editor.connection.alias
    for book in apps.get_model("inventory", "Book").objects.using(using).values_list("pk", flat=True):
        for name in models:
            then, model = apps.get_model(app, name), cast("Any", now.get_model(app, name))
            there = {field.attname for field in then._meta.concrete_fields}
            names = [column.attname for column in columns_of(model) if column.attname in there]
            own = Q()
            for path in model.history.paths:
                own |= Q(**{path: book})
            rows = then._base_manager.using(using).filter(own).order_by("pk").distinct().values_list("pk", *names)
            states = [(key, said_of(names, values)) for key, *values in rows.iterator(chunk_size=AT_ONCE)]
            for first in range(0, len(states), AT_ONCE):
                write_first(book, name, states[first : first + AT_ONCE], using)
