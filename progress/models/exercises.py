"""The catalogue of exercises in versions, and ladders of exercises and doses."""
from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from progress.rules.dose import Dose
from progress.rules.resting import Rest, work_of


class Exercise(models.Model):
    """Something that is practised. A new one is a row, not code; how it is done stands in its versions."""

    key = models.SlugField(max_length=40, unique=True)
    position = models.PositiveSmallIntegerField(default=0)
    is_offered = models.BooleanField(_("offered for programmes"), default=True)

    class Meta:
        ordering = ["position", "pk"]

    def __str__(self) -> str:
        return self.key


class DoseFields(models.Model):
    """Sets, repetitions and seconds held, wherever a dose is kept."""

    sets = models.PositiveSmallIntegerField(_("sets"))
    reps = models.PositiveSmallIntegerField(_("repetitions"))
    hold_seconds = models.PositiveSmallIntegerField(_("seconds held"), null=True, blank=True)

    class Meta:
        abstract = True

    @property
    def dose(self) -> Dose:
        return Dose(self.sets, self.reps, self.hold_seconds)


class ExerciseVersion(DoseFields):
    """One version of how an exercise is done. Changing a word makes the next one; what was logged keeps its own."""

    TWO_FEET, ONE_FOOT, JUMPS = "two_feet", "one_foot", "jumps"
    LOADS = [
        ("", _("not counted")), (TWO_FEET, _("rises on two feet")), (ONE_FOOT, _("rises on one foot")),
        (JUMPS, _("small jumps")),
    ]
    exercise = models.ForeignKey(Exercise, models.PROTECT, related_name="versions")
    version = models.PositiveSmallIntegerField(default=1)
    name = models.CharField(_("name"), max_length=60)
    purpose = models.TextField(_("what for"))
    muscles = models.TextField(_("muscles"))
    how = models.TextField(_("how"))
    pose = models.SlugField(_("drawing"), max_length=40, blank=True)
    each_foot = models.BooleanField(_("dose for each foot"), default=False)
    tempo = models.CharField(_("tempo"), max_length=120, blank=True)
    clean_look = models.TextField(_("what clean looks like"))
    faults = models.JSONField(_("usual faults"), default=list)
    cautions = models.TextField(_("cautions"), blank=True)
    stop_rule = models.TextField(_("stop rule"))
    serves = models.JSONField(
        default=list, help_text=_("Pairs of a measure’s key and one of its faults; an empty fault is the whole strand.")
    )
    equipment = models.CharField(_("equipment"), max_length=120, blank=True)
    dose_source = models.CharField(_("source of the dose"), max_length=300)
    loads_foot = models.BooleanField(
        _("loads the foot"), default=True, help_text=_("Not for a student with no rises for now.")
    )
    counts_as = models.CharField(_("counts in the load as"), max_length=10, choices=LOADS, blank=True)
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    made_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["exercise", "-version"]
        constraints = [models.UniqueConstraint(fields=["exercise", "version"], name="exercise_versions_are_numbered")]

    def __str__(self) -> str:
        return str(_(self.name))

    def is_rested_from(self, rest: Rest | None) -> bool:
        """True where a student who rests, or comes back in steps, leaves it out."""
        return rest is not None and rest.forbids(self.work)

    @property
    def work(self) -> str:
        """What it asks of the foot."""
        return work_of(
            loads_foot=self.loads_foot, each_foot=self.each_foot, is_jump=self.counts_as == self.JUMPS
        )


class Ladder(models.Model):
    """Steps of exercise and dose, one above the other; the rule only prompts, the teacher moves a student."""

    key = models.SlugField(max_length=40, unique=True)
    name = models.CharField(_("name"), max_length=60)
    position = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["position", "pk"]

    def __str__(self) -> str:
        return str(_(self.name))


class LadderStep(DoseFields):
    ladder = models.ForeignKey(Ladder, models.PROTECT, related_name="steps")
    position = models.PositiveSmallIntegerField()
    exercise = models.ForeignKey(Exercise, models.PROTECT, related_name="+")
    note = models.CharField(_("note"), max_length=120, blank=True)

    class Meta:
        ordering = ["ladder", "position"]
        constraints = [models.UniqueConstraint(fields=["ladder", "position"], name="ladder_steps_are_numbered")]

    def __str__(self) -> str:
        return f"{self.ladder} {self.position}"
