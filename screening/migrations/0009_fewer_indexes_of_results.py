"""A tap's row is found by its screening or by its series; four indexes less are four pages less to write."""
import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('screening', '0008_ledger_of_taps'),
        ('studio', '0014_imports_can_be_taken_back'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AlterField(
            model_name='result',
            name='by',
            field=models.ForeignKey(db_index=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AlterField(
            model_name='result',
            name='measure',
            field=models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='results', to='screening.measure'),
        ),
        migrations.AlterField(
            model_name='result',
            name='protocol',
            field=models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='results', to='screening.protocol'),
        ),
        migrations.AlterField(
            model_name='result',
            name='student',
            field=models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='results', to='studio.student'),
        ),
    ]
