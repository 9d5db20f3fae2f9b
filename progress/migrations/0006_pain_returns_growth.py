import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


def say_what_is_known(apps, schema_editor):
    """Clearances from before a clinician's name was asked for: the day and the note are what is known."""
    for answer in apps.get_model('progress', 'PainAnswer').objects.filter(kind='clinician'):
        answer.said_by, answer.said_on, answer.allowed = 'not recorded', answer.answered_at.date(), answer.note[:300]
        answer.save(update_fields=['said_by', 'said_on', 'allowed'])


def mark_closings(apps, schema_editor):
    """The last note of a closed follow-up is the one that closed it."""
    notes = apps.get_model('progress', 'FollowUpNote').objects
    for follow_up in apps.get_model('progress', 'FollowUp').objects.filter(closed_at__isnull=False):
        last = notes.filter(follow_up=follow_up).order_by('at', 'pk').last()
        if last is not None:
            notes.filter(pk=last.pk).update(kind='closed')


class Migration(migrations.Migration):

    dependencies = [
        ('progress', '0005_reports'),
        ('studio', '0001_house'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='Height',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('height_cm', models.DecimalField(decimal_places=1, max_digits=4, null=True, verbose_name='height, cm')),
                ('measured_on', models.DateField(verbose_name='measured on')),
                ('recorded_at', models.DateTimeField(auto_now_add=True)),
            ],
            options={
                'ordering': ['measured_on', 'pk'],
            },
        ),
        migrations.CreateModel(
            name='ReturnLadder',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('steps', models.JSONField()),
                ('approved_by', models.CharField(blank=True, max_length=120, verbose_name='approved by (a clinician)')),
                ('approved_on', models.DateField(blank=True, null=True, verbose_name='approved on')),
                ('made_at', models.DateTimeField(auto_now_add=True)),
            ],
            options={
                'ordering': ['pk'],
            },
        ),
        migrations.CreateModel(
            name='ReturnStep',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('step', models.PositiveSmallIntegerField()),
                ('kind', models.CharField(choices=[('start', 'starts'), ('up', 'moves up'), ('back', 'back a step')], max_length=5)),
                ('note', models.CharField(blank=True, max_length=300)),
                ('on', models.DateField()),
                ('at', models.DateTimeField(auto_now_add=True)),
            ],
            options={
                'ordering': ['pk'],
            },
        ),
        migrations.AlterModelOptions(
            name='painanswer',
            options={'ordering': ['pk']},
        ),
        migrations.AddField(
            model_name='followupnote',
            name='kind',
            field=models.CharField(choices=[('note', 'note'), ('closed', 'closed'), ('reopened', 'opened again'), ('came_back', 'came back'), ('handed_over', 'handed over')], default='note', max_length=11),
        ),
        migrations.AddField(
            model_name='painanswer',
            name='allowed',
            field=models.CharField(blank=True, max_length=300, verbose_name='what is allowed'),
        ),
        migrations.AddField(
            model_name='painanswer',
            name='said_by',
            field=models.CharField(blank=True, max_length=120, verbose_name='clinician’s name'),
        ),
        migrations.AddField(
            model_name='painanswer',
            name='said_on',
            field=models.DateField(null=True, verbose_name='seen on'),
        ),
        migrations.AddField(
            model_name='painreport',
            name='since',
            field=models.CharField(blank=True, max_length=10, verbose_name='since when'),
        ),
        migrations.AlterField(
            model_name='followupnote',
            name='by',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AlterField(
            model_name='painanswer',
            name='kind',
            field=models.CharField(choices=[('clinician', 'seen and cleared by a clinician'), ('teacher', 'settled, by the teacher'), ('owner', 'decided by the owner'), ('mistake', 'reported by mistake'), ('reopened', 'opened again')], max_length=10),
        ),
        migrations.AlterField(
            model_name='painanswer',
            name='report',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='answers', to='progress.painreport'),
        ),
        migrations.RunPython(say_what_is_known, migrations.RunPython.noop),
        migrations.RunPython(mark_closings, migrations.RunPython.noop),
        migrations.AddConstraint(
            model_name='painanswer',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('kind', 'clinician'), _negated=True), models.Q(models.Q(('said_by', ''), _negated=True), models.Q(('allowed', ''), _negated=True), ('said_on__isnull', False)), _connector='OR'), name='clearance_says_who_when_and_what'),
        ),
        migrations.AddField(
            model_name='height',
            name='measured_by',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='height',
            name='student',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='heights', to='studio.student'),
        ),
        migrations.AddField(
            model_name='height',
            name='supersedes',
            field=models.OneToOneField(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='superseded_by', to='progress.height'),
        ),
        migrations.AddField(
            model_name='returnladder',
            name='made_by',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='returnstep',
            name='by',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='returnstep',
            name='ladder',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='progress.returnladder'),
        ),
        migrations.AddField(
            model_name='returnstep',
            name='student',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='return_steps', to='studio.student'),
        ),
        migrations.AddConstraint(
            model_name='height',
            constraint=models.CheckConstraint(condition=models.Q(('height_cm__isnull', True), models.Q(('height_cm__gte', 80), ('height_cm__lte', 210)), _connector='OR'), name='height_is_likely'),
        ),
        migrations.AddConstraint(
            model_name='height',
            constraint=models.CheckConstraint(condition=models.Q(('height_cm__isnull', False), ('supersedes__isnull', False), _connector='OR'), name='height_or_taken_back'),
        ),
        migrations.AddConstraint(
            model_name='returnladder',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('approved_by', ''), ('approved_on__isnull', True)), models.Q(models.Q(('approved_by', ''), _negated=True), ('approved_on__isnull', False)), _connector='OR'), name='ladder_approved_who_and_when'),
        ),
    ]
