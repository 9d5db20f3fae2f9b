"""A sudden loss is a follow-up of its own."""
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("progress", "0011_finished_terms")]
    operations = [
        migrations.AlterField(
            model_name="followup",
            name="kind",
            field=models.CharField(
                choices=[
                    ("stop_sign", "Stop signs"), ("pain_lasts", "Pain to be seen"), ("dropped", "Lost suddenly"),
                    ("pain_watched", "Pain to ask about in the next class"), ("no_gain", "Stalled or slipping"),
                    ("sides_apart", "Left and right apart"), ("not_measured", "Not measured lately"),
                ],
                max_length=12,
            ),
        ),
    ]
