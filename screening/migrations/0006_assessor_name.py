from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("screening", "0005_jumps_and_results_despite_rest")]

    operations = [
        migrations.AddField("result", "assessor_name", models.CharField(blank=True, max_length=120)),
    ]
