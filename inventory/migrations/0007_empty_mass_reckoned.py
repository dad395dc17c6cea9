from django.db import migrations, models

SOURCES = ("stamped", "supplier", "measured evacuated", "measured with content", "not known", "reckoned from the paper")


class Migration(migrations.Migration):
    """An empty mass may be reckoned from the paper: a further word for its source."""

    dependencies = [("inventory", "0006_steps_as_shown")]

    operations = [
        migrations.AlterField(
            model_name="cylinder",
            name="tare_source",
            field=models.CharField(choices=[(one, one) for one in SOURCES], default="stamped", max_length=24),
        ),
    ]
