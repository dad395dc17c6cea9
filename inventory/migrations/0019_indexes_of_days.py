"""Let indexes begin with the days that a statement looks at, and take away those with which another begins.

The statements name them, so that SQLite does not make whole tables anew for it.
"""

import django.db.models.deletion
from django.db import migrations, models

INDEXES = (
    'inventory_entry_book_id_3a9cecb3',
    'inventory_movement_book_id_81014791',
    'inventory_periodtotal_book_id_2bd21297',
    'inventory_trace_book_id_94fc17a7',
)


def of_book(model_name, related_name='+'):
    protect = django.db.models.deletion.PROTECT
    field = models.ForeignKey(db_index=False, on_delete=protect, related_name=related_name, to='inventory.book')
    return migrations.AlterField(model_name=model_name, name='book', field=field)


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0018_looks_of_photos'),
    ]

    operations = [
        migrations.RemoveIndex(model_name='entry', name='entry_day'),
        migrations.RemoveIndex(model_name='movement', name='movement_statement'),
        migrations.RemoveIndex(model_name='movement', name='movement_difference'),
        migrations.AddIndex(
            model_name='entry',
            index=models.Index(fields=['book', 'booked_on', 'seq', 'kind', 'occurred_at', 'recorded_at', 'context'], name='entry_days'),
        ),
        migrations.AddIndex(
            model_name='movement',
            index=models.Index(fields=['book', 'booked_on', 'cause', 'refrigerant', 'grade', 'mass_mg', 'source', 'target'], name='movement_days'),
        ),
        migrations.SeparateDatabaseAndState(
            # Back: the others answer as before, with these or without.
            database_operations=[
                migrations.RunSQL(f'DROP INDEX IF EXISTS {name}', migrations.RunSQL.noop) for name in INDEXES
            ],
            state_operations=[
                of_book('entry', 'entries'),
                of_book('movement'),
                of_book('periodtotal'),
                of_book('trace'),
            ],
        ),
    ]
