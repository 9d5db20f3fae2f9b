"""How a measure is done, and what is clean, as drawings."""
from django.db import migrations, models

# As fixtures/measures.json has them, for studios whose catalogue is there already.
POSES = {
    "rises": ("rise-one-foot", "fault-heel-low"),
    "passe-balance": ("balance-passe", "fault-heel-low"),
    "landing-control": ("saute-one-leg", "fault-knee-falls-in"),
    "rise-control": ("rise-one-foot-front", "fault-rolls-out"),
    "eyes-closed-balance": ("balance-flat", "fault-foot-down"),
    "airplane": ("airplane", "fault-knee-falls-in"),
    "one-leg-saute": ("saute-one-leg", "fault-knee-falls-in"),
    "rise-height": ("rise-height", "fault-heel-low"),
    "knee-to-wall": ("knee-to-wall", "fault-heels-lift"),
    "point-line": ("point-line", "fault-point-short"),
}


def draw_what_is_there(apps, schema_editor):
    measures = apps.get_model("screening", "Measure").objects
    for key, (pose, clean_pose) in POSES.items():
        measures.filter(key=key).update(pose=pose, clean_pose=clean_pose)


class Migration(migrations.Migration):
    dependencies = [("screening", "0006_assessor_name")]
    operations = [
        migrations.AddField(
            model_name="measure", name="pose",
            field=models.SlugField(blank=True, default="", max_length=40, verbose_name="drawing"),
            preserve_default=False,
        ),
        migrations.AddField(
            model_name="measure", name="clean_pose",
            field=models.SlugField(
                blank=True, default="", max_length=40, verbose_name="drawing of what is clean"
            ),
            preserve_default=False,
        ),
        migrations.RunPython(draw_what_is_there, migrations.RunPython.noop),
    ]
