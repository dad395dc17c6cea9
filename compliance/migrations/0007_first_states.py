"""Begin the history of the records that stand already: what they say now is the first state of each."""

from django.db import migrations
from django.db.models import Q


def begin(apps, schema_editor):
    from inventory.book.changed import kept_models
    from inventory.models.kept import write_first
    from inventory.models.trace import columns_of, said_of

    using = schema_editor.connection.alias
    for book in apps.get_model("inventory", "Book").objects.using(using).values_list("pk", flat=True):
        for model in kept_models():
            if model._meta.model_name not in apps.all_models[model._meta.app_label]:
                continue  # of a later version
            then = apps.get_model(model._meta.app_label, model._meta.model_name)
            there = {field.attname for field in then._meta.concrete_fields}
            names = [column.attname for column in columns_of(model) if column.attname in there]
            own = Q()
            for path in model.history.paths:
                own |= Q(**{path: book})
            rows = then._base_manager.using(using).filter(own).order_by("pk").distinct().values_list("pk", *names)
            states = [(key, said_of(names, values)) for key, *values in rows.iterator(chunk_size=2_000)]
            for first in range(0, len(states), 2_000):
                write_first(book, model._meta.model_name, states[first : first + 2_000], using)


class Migration(migrations.Migration):
    dependencies = [
        ("compliance", "0006_judged_where_the_change_is"),
        ("inventory", "0014_history"),
        ("shop", "0018_history"),
    ]

    operations = [migrations.RunPython(begin, migrations.RunPython.noop)]
