
import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('studio', '0002_line_at_the_barre'),
    ]

    operations = [
        migrations.CreateModel(
            name='StageChange',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('on', models.DateField()),
                ('at', models.DateTimeField(auto_now_add=True)),
                ('by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('stage', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='studio.stage')),
                ('student', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='stage_changes', to='studio.student')),
            ],
            options={
                'ordering': ['pk'],
            },
        ),
    ]
