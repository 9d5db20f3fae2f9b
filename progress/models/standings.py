"""The judgement's one cache, what it said when a term ended, and what it learned of the studio's own."""
from django.db import models
from django.utils.translation import gettext_lazy as _

from screening.models import Measure
from studio.models import ClassGroup, Student, Term


class Standing(models.Model):
    """A student's current verdict for a measure and side: a cache of the judge's answer, rebuilt from results.

    `line` holds the whole answer as judgement.Line, so that every page shows the very same numbers.
    """

    student = models.ForeignKey(Student, models.CASCADE, related_name="standings")
    measure = models.ForeignKey(Measure, models.CASCADE, related_name="+")
    side = models.CharField(max_length=1, blank=True)
    class_group = models.ForeignKey(ClassGroup, models.CASCADE, related_name="standings")
    as_of = models.DateField()
    verdict = models.CharField(max_length=12)
    measure_again = models.BooleanField(default=False)
    line = models.JSONField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["student", "measure", "side"], name="one_standing_a_line"),
        ]

    def __str__(self) -> str:
        return f"{self.student} {self.measure} {self.side}: {self.verdict}"


class ClassStanding(models.Model):
    """What a whole class shares, from the same computation as its students' standings."""

    class_group = models.OneToOneField(ClassGroup, models.CASCADE, related_name="standing")
    as_of = models.DateField()
    stalls = models.JSONField(default=list)

    def __str__(self) -> str:
        return f"{self.class_group}, {self.as_of}"


class CarriedOver(models.Model):
    """What is carried of a student's lines over the Monday from which results are read one by one: the judge's cache.

    lines: measure key and side to judgement.Carried; none for students without a result before. made_from: a digest of
    what else it was made from (the terms, the values in force, the judge's own numbers); another one makes it anew.
    """

    student = models.ForeignKey(Student, models.CASCADE, related_name="+")
    until = models.DateField()
    made_from = models.CharField(max_length=64)
    lines = models.JSONField(default=list)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["student", "until"], name="carried_over_once")]

    def __str__(self) -> str:
        return f"{self.student}, {self.until}"


class TermStanding(models.Model):
    """What was judged of a student, measure and side on the last day of a term: kept, and never judged anew.

    The same columns as Standing, so that the papers of a term that is over read one as the other.
    """

    term = models.ForeignKey(Term, models.PROTECT, related_name="+")
    student = models.ForeignKey(Student, models.CASCADE, related_name="term_standings")
    measure = models.ForeignKey(Measure, models.CASCADE, related_name="+")
    side = models.CharField(max_length=1, blank=True)
    class_group = models.ForeignKey(ClassGroup, models.CASCADE, related_name="+")
    as_of = models.DateField()
    verdict = models.CharField(max_length=12)
    measure_again = models.BooleanField(default=False)
    line = models.JSONField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["student", "term", "measure", "side"], name="one_standing_a_line_and_term"),
        ]

    def __str__(self) -> str:
        return f"{self.term}, {self.student} {self.measure} {self.side}: {self.verdict}"


class TermClassStanding(models.Model):
    """What a whole class shared on the last day of a term; kept with the standings of its students."""

    term = models.ForeignKey(Term, models.PROTECT, related_name="+")
    class_group = models.ForeignKey(ClassGroup, models.CASCADE, related_name="+")
    as_of = models.DateField()
    stalls = models.JSONField(default=list)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["class_group", "term"], name="one_class_standing_a_term")]

    def __str__(self) -> str:
        return f"{self.term}, {self.class_group}"


class LearnedValue(models.Model):
    """A typical error or gain as the studio's own results taught it; the latest row of a measure is in force."""

    ERROR, GAIN = "error", "gain"
    measure = models.ForeignKey(Measure, models.CASCADE, related_name="learned_values")
    kind = models.CharField(max_length=5, choices=[(ERROR, _("typical error")), (GAIN, _("typical gain a week"))])
    value = models.FloatField()
    evidence = models.PositiveIntegerField(help_text=_("Pairs of results, or lines of finished terms."))
    learned_on = models.DateField()
    learned_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["measure", "kind", "-learned_on", "-pk"]

    def __str__(self) -> str:
        return f"{self.measure}: {self.kind} {self.value}"
