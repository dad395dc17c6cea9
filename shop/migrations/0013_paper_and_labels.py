"""What papers and labels of a workshop are printed on."""

from typing import Any

from django.db import migrations, models
from django.db.models import Q


def letter_where_it_is_at_home(apps: Any, schema_editor: Any) -> None:
    """Give the paper that bay sheets had until now: US Letter under the rules of the United States and with pounds."""
    workshops = apps.get_model("shop", "Workshop").objects
    workshops.filter(Q(jurisdiction="us") | Q(mass_unit__startswith="lb")).update(paper="letter")


def nothing(apps: Any, schema_editor: Any) -> None:
    """Going back, the columns go."""


class Migration(migrations.Migration):
    dependencies = [("shop", "0012_units_of_a_person")]

    operations = [
        migrations.AddField(
            "workshop",
            "paper",
            models.CharField(choices=[("A4", "A4"), ("letter", "US Letter")], default="A4", max_length=8),
        ),
        migrations.AddField(
            "workshop",
            "labels",
            models.CharField(
                choices=[
                    ("sheet", "a sheet of paper, to be cut"),
                    ("100x70", "100 x 70 mm"),
                    ("100x50", "100 x 50 mm"),
                    ("62", "62 mm wide, continuous"),
                    ("4x6in", "4 x 6 in"),
                ],
                default="sheet",
                max_length=8,
            ),
        ),
        migrations.RunPython(letter_where_it_is_at_home, nothing),
    ]
