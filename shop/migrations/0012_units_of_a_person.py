"""Units of a person and of a workshop: vacuum, volume and days are chosen too."""

from typing import Any

from django.db import migrations, models


def as_spoken_until_now(apps: Any, schema_editor: Any) -> None:
    """Let a workshop speak as it did: microns with psi, fluid ounces with pounds; its days stay as they were."""
    workshops = apps.get_model("shop", "Workshop").objects
    workshops.filter(pressure_unit="psi").update(vacuum_unit="micron")
    workshops.filter(mass_unit="lb").update(volume_unit="fl oz")


def nothing(apps: Any, schema_editor: Any) -> None:
    """Going back, the columns go."""


class Migration(migrations.Migration):
    dependencies = [("shop", "0011_questions_left_out")]

    operations = [
        migrations.AddField("membership", "own_units", models.JSONField(blank=True, default=dict)),
        migrations.AddField(
            "workshop",
            "vacuum_unit",
            models.CharField(
                choices=[("mbar", "mbar"), ("micron", "micron"), ("inHg", "inHg")], default="mbar", max_length=6
            ),
        ),
        migrations.AddField(
            "workshop",
            "volume_unit",
            models.CharField(
                choices=[("L", "L, small ones in mL"), ("fl oz", "US fl oz")], default="L", max_length=5
            ),
        ),
        migrations.AddField(
            "workshop",
            "day_order",
            models.CharField(
                choices=[
                    ("ymd", "2026-03-04"),
                    ("dmy", "4 Mar 2026"),
                    ("mdy", "Mar 4, 2026"),
                ],
                default="ymd",
                max_length=3,
            ),
        ),
        migrations.AlterField(
            "workshop",
            "mass_unit",
            models.CharField(
                choices=[("kg", "kg, small ones in g"), ("lb", "lb, small ones in oz"), ("lb oz", "lb and oz")],
                default="kg",
                max_length=5,
            ),
        ),
        migrations.AlterField(
            "workshop",
            "temperature_unit",
            models.CharField(choices=[("C", "°C"), ("F", "°F")], default="C", max_length=2),
        ),
        migrations.RunPython(as_spoken_until_now, nothing),
    ]
