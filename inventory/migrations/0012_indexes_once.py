"""Take away the indexes of foreign keys with which another index begins, or that nothing asks for.

The statements name them, so that SQLite does not make whole tables anew for it.
"""

import django.db.models.deletion
from django.db import migrations, models

INDEXES = (
    'inventory_movement_entry_id_50e86294',
    'inventory_movement_explains_id_d6c487cd',
    'inventory_movement_scale_id_7481d877',
    'inventory_movement_source_id_f6d95bf2',
    'inventory_movement_target_id_14f02acf',
    'inventory_weighing_account_id_bb9828c6',
    'inventory_weighing_entry_id_f4d3ddcb',
    'inventory_weighing_scale_id_eb8c5086',
)


def key(model_name, name, to, **how):
    protect = django.db.models.deletion.PROTECT
    field = models.ForeignKey(db_index=False, on_delete=protect, to=f'inventory.{to}', **how)
    return migrations.AlterField(model_name=model_name, name=name, field=field)


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0011_totals_of_days_and_months'),
    ]

    operations = [
        migrations.SeparateDatabaseAndState(
            # Back: the others answer as before, with these or without.
            database_operations=[
                migrations.RunSQL(f'DROP INDEX IF EXISTS {name}', migrations.RunSQL.noop) for name in INDEXES
            ],
            state_operations=[
                key('movement', 'entry', 'entry', related_name='movements'),
                key('movement', 'explains', 'movement', related_name='explanations', blank=True, null=True),
                key('movement', 'scale', 'scale', related_name='+', blank=True, null=True),
                key('movement', 'source', 'account', related_name='given'),
                key('movement', 'target', 'account', related_name='received'),
                key('weighing', 'account', 'account', related_name='weighings'),
                key('weighing', 'entry', 'entry', related_name='weighings'),
                key('weighing', 'scale', 'scale', related_name='weighings'),
            ],
        ),
        migrations.AddIndex(
            model_name='movement',
            index=models.Index(condition=models.Q(explains__isnull=False), fields=['explains'], name='movement_explains'),
        ),
    ]
