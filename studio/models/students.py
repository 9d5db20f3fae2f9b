"""Who dances here, at which stage, with which guardians, and in which class of which term."""
import datetime as dt

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from studio.models.classes import ClassGroup, Term


class Stage(models.Model):
    """Where a student stands on the way to pointe work, by the teacher's word; targets hang on it."""

    key = models.SlugField(max_length=30, unique=True)
    name = models.CharField(_("name"), max_length=60)
    position = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["position"]

    def __str__(self) -> str:
        return str(_(self.name))


class Student(models.Model):
    """A child or teenager of the studio. No weight, no photo, ever."""

    FEET = [("L", pgettext_lazy("foot", "left")), ("R", pgettext_lazy("foot", "right"))]
    name = models.CharField(_("name"), max_length=120)
    called = models.CharField(
        _("known as"), max_length=40, blank=True,
        help_text=_("The name used at the barre, if it is not the first name."),
    )
    birth_on = models.DateField(_("birth date"), null=True, blank=True)
    stage = models.ForeignKey(Stage, models.PROTECT, verbose_name=_("stage"), null=True, blank=True)
    training_since_year = models.PositiveSmallIntegerField(_("in training since"), null=True, blank=True)
    classes_per_week = models.PositiveSmallIntegerField(_("classes a week"), null=True, blank=True)
    # Nobody any more: figures that a class rests on, left when somebody was erased.
    is_nameless = models.BooleanField(default=False, editable=False)
    dominant_foot = models.CharField(_("dominant foot"), max_length=1, choices=FEET, blank=True)
    added_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    added_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["name", "birth_on"], name="same_name_and_birth_date_is_one_student")
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def first_name(self) -> str:
        """The name the barre uses."""
        return self.called or self.name.split(" ")[0]

    def age_on(self, on: dt.date) -> int | None:
        if self.birth_on is None:
            return None
        return on.year - self.birth_on.year - ((on.month, on.day) < (self.birth_on.month, self.birth_on.day))


class StageChange(models.Model):
    """A stage a student was put on, by whom and when; the student's row holds only the latest."""

    student = models.ForeignKey(Student, models.PROTECT, related_name="stage_changes")
    stage = models.ForeignKey(Stage, models.PROTECT, related_name="+")
    on = models.DateField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.student}: {self.stage}"


class Guardian(models.Model):
    name = models.CharField(_("name"), max_length=120)
    email = models.EmailField(_("e-mail"), blank=True)
    phone = models.CharField(_("phone"), max_length=40, blank=True)
    language_code = models.CharField(
        _("language of their page"), max_length=10, choices=settings.FAMILY_LANGUAGES, blank=True,
        help_text=_("Leave empty for the studio’s own language."),
    )
    students = models.ManyToManyField(Student, related_name="guardians")

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class EnrolmentQuerySet(models.QuerySet):
    def on(self, day: dt.date) -> "EnrolmentQuerySet":
        """Those whose student is in the class on that day: joined, and not yet left."""
        return self.filter(Q(left_on__isnull=True) | Q(left_on__gt=day), joined_on__lte=day)

    def in_term(self, term: Term | None, day: dt.date) -> "EnrolmentQuerySet":
        """Those of the term whose student is in the class on that day; outside the term's days, on its nearest one."""
        if term is None:
            return self.none()
        return self.on(min(max(day, term.starts_on), term.ends_on)).filter(term=term)

    def for_a_day_at_least(self) -> "EnrolmentQuerySet":
        """Without those that ended before they began, as of students who moved up before their term began."""
        return self.filter(Q(left_on__isnull=True) | Q(left_on__gt=F("joined_on")))


class Enrolment(models.Model):
    """A student in a class for a term; leaving is a date, never a deletion."""

    student = models.ForeignKey(Student, models.PROTECT, related_name="enrolments")
    class_group = models.ForeignKey(ClassGroup, models.PROTECT, related_name="enrolments")
    term = models.ForeignKey(Term, models.PROTECT, related_name="enrolments")
    joined_on = models.DateField(_("joined on"))
    left_on = models.DateField(_("left on"), null=True, blank=True)
    # The place in the class's order at the barre; a student without one stands behind the others, by name.
    line_position = models.PositiveSmallIntegerField(null=True, editable=False)
    enrolled_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    enrolled_at = models.DateTimeField(auto_now_add=True)

    objects = EnrolmentQuerySet.as_manager()

    class Meta:
        ordering = ["-joined_on", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["student", "class_group", "term"],
                condition=Q(left_on__isnull=True),
                name="one_open_enrolment_in_a_class_and_term",
            ),
            models.CheckConstraint(
                condition=Q(left_on__isnull=True) | Q(left_on__gte=F("joined_on")), name="left_after_joining"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.student} in {self.class_group}"
