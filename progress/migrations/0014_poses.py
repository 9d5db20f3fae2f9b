"""How an exercise is done, as a drawing."""
from django.db import migrations, models

# As fixtures/exercises.json has them, for studios whose catalogue is there already.
POSES = {
    "rises-parallel": "rise-two-feet",
    "rises-first": "rise-first",
    "rises-small-second": "rise-small-second",
    "releves-from-plie": "releve-from-plie",
    "up-two-down-one": "up-two-down-one",
    "rises-one-foot": "rise-one-foot",
    "heel-press": "heel-press",
    "balance-two-feet": "balance-two-feet",
    "balance-passe": "balance-passe",
    "balance-eyes-closed": "balance-flat",
    "tendus-through-foot": "tendu",
    "push-off-degages": "push-off",
    "forced-arch-rolls": "forced-arch",
    "short-foot": "short-foot",
    "toe-pick-ups": "toe-pick-up",
    "toe-lifts": "toe-lift",
    "band-shin": "band-shin",
    "band-big-toe": "band-big-toe",
    "band-outer-ankle": "band-outer-ankle",
    "band-inner-ankle": "band-inner-ankle",
    "seated-calf": "seated-heel-raise",
    "knee-over-toes": "one-leg-plie",
    "small-jumps-held": "jump-held",
    "jump-two-to-one": "jump-two-to-one",
    "turnout-lying": "turnout-lying",
    "turnout-standing": "turnout-standing",
    "calf-stretch": "calf-stretch",
}


def draw_what_is_there(apps, schema_editor):
    versions = apps.get_model("progress", "ExerciseVersion").objects
    for key, pose in POSES.items():
        versions.filter(exercise__key=key).update(pose=pose)


class Migration(migrations.Migration):
    dependencies = [("progress", "0013_to_be_seen_again")]
    operations = [
        migrations.AddField(
            model_name="exerciseversion", name="pose",
            field=models.SlugField(blank=True, default="", max_length=40, verbose_name="drawing"),
            preserve_default=False,
        ),
        migrations.RunPython(draw_what_is_there, migrations.RunPython.noop),
    ]
