"""The house: the studio, its people, terms, classes and students; knows no measurement and no judgement."""
import datetime as dt
import zoneinfo

from django.conf import settings
from django.contrib.auth.models import AbstractUser
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

# Django finds an app's models through this file.
from studio.audit import models as audit  # noqa: F401
from studio.entrance import keys  # noqa: F401
from studio.family.models import Consent as Consent
from studio.family.models import GuardianKey as GuardianKey
from studio.family.models import KeyTry as KeyTry

WEEKDAYS = [
    (0, _("Monday")), (1, _("Tuesday")), (2, _("Wednesday")), (3, _("Thursday")),
    (4, _("Friday")), (5, _("Saturday")), (6, _("Sunday")),
]


def validate_time_zone(name: str) -> None:
    """Refuses a name that the time-zone database does not know."""
    if name not in zoneinfo.available_timezones():
        raise ValidationError(_("“%(name)s” is not a time zone. Example: Europe/London."), params={"name": name})


class Studio(models.Model):
    """The one row that says whose house this is and how it writes dates and numbers."""

    name = models.CharField(_("name"), max_length=120, default="Risebook")
    language_code = models.CharField(
        _("language and dates"), max_length=10, choices=settings.LANGUAGES, default=settings.LANGUAGE_CODE
    )
    time_zone = models.CharField(
        _("time zone"), max_length=60, default=settings.TIME_ZONE, validators=[validate_time_zone]
    )
    first_aid_policy = models.TextField(_("first aid, the studio’s own policy"), blank=True)
    idle_minutes = models.PositiveSmallIntegerField(
        _("minutes until a tablet locks"), default=10, validators=[MinValueValidator(1), MaxValueValidator(120)]
    )
    NOBODY, OWNERS, EVERYBODY = "nobody", "owner", "everybody"
    second_factor_for = models.CharField(
        _("second factor"), max_length=10, default=NOBODY, choices=[
            (NOBODY, _("as each person likes")), (OWNERS, _("of every owner")), (EVERYBODY, _("of everybody")),
        ],
    )
    sends_digest = models.BooleanField(_("a mail each day to everyone who has something to see to"), default=False)
    consent_asked_from = models.DateField(
        _("consent is asked for from"), null=True, blank=True,
        help_text=_("From this day on, measurements and pain notes need a recorded consent. Empty: only a consent "
                    "that was taken back counts."),
    )
    family_address = models.URLField(
        _("address for families"), blank=True, max_length=200,
        help_text=_("What stands on their cards, for example https://studio.example. Empty: the address this page "
                    "was opened with."),
    )
    months_kept = models.PositiveSmallIntegerField(
        _("months kept after leaving"), default=24,
        help_text=_("Then a student’s records are due for erasure. The studio’s own rule; local law may ask for "
                    "longer."),
    )
    is_demo = models.BooleanField(default=False)

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(pk=1), name="one_studio_only")]

    def __str__(self) -> str:
        return self.name

    @classmethod
    def current(cls) -> "Studio":
        return cls.objects.filter(pk=1).first() or cls(pk=1)


class User(AbstractUser):
    """Somebody who works here. Guardians have no account."""

    OWNER, TEACHER = "owner", "teacher"
    ROLES = [(OWNER, _("owner")), (TEACHER, _("teacher"))]
    first_name = last_name = None
    name = models.CharField(_("name"), max_length=120)
    role = models.CharField(_("role"), max_length=10, choices=ROLES, default=TEACHER)
    gets_digest = models.BooleanField(_("a mail each day that has something to see to"), default=False)
    digest_sent_on = models.DateField(null=True, editable=False)

    REQUIRED_FIELDS = ["name"]

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(role__in=["owner", "teacher"]), name="user_role_known")]

    def __str__(self) -> str:
        return self.name

    def get_full_name(self) -> str:
        return self.name

    def get_short_name(self) -> str:
        return self.name.split(" ")[0]


class Term(models.Model):
    name = models.CharField(_("name"), max_length=60, unique=True)
    starts_on = models.DateField(_("first day"))
    ends_on = models.DateField(_("last day"))

    class Meta:
        ordering = ["-starts_on"]
        constraints = [
            models.CheckConstraint(condition=Q(ends_on__gt=F("starts_on")), name="term_ends_after_it_starts")
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def first_monday(self) -> dt.date:
        return self.starts_on - dt.timedelta(days=self.starts_on.weekday())

    def week_number(self, on: dt.date) -> int:
        """Week of the term, Monday to Sunday, 1 for the week of the first day; holidays count as weeks."""
        return (on - self.first_monday).days // 7 + 1

    def week_on(self, on: dt.date) -> int | None:
        """Week of the term on that day; None outside it."""
        return self.week_number(on) if self.starts_on <= on <= self.ends_on else None

    @property
    def week_count(self) -> int:
        return self.week_number(self.ends_on)


class Holiday(models.Model):
    """Days inside a term without classes, such as half-term."""

    term = models.ForeignKey(Term, models.CASCADE, related_name="holidays")
    name = models.CharField(_("name"), max_length=60)
    starts_on = models.DateField(_("first day"))
    ends_on = models.DateField(_("last day"))

    class Meta:
        ordering = ["starts_on"]
        constraints = [
            models.CheckConstraint(condition=Q(ends_on__gte=F("starts_on")), name="holiday_ends_after_it_starts")
        ]

    def __str__(self) -> str:
        return self.name


class ClassGroup(models.Model):
    """A class that meets week after week; its students are enrolled by term."""

    name = models.CharField(_("name"), max_length=60, unique=True)
    teachers = models.ManyToManyField(settings.AUTH_USER_MODEL, related_name="class_groups", blank=True)
    group_size = models.PositiveSmallIntegerField(_("children at the barre at a time"), default=6)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(
                condition=Q(group_size__gte=1) & Q(group_size__lte=8), name="one_to_eight_at_the_barre"
            ),
        ]

    def __str__(self) -> str:
        return self.name


class ClassMeeting(models.Model):
    class_group = models.ForeignKey(ClassGroup, models.CASCADE, related_name="meetings")
    weekday = models.PositiveSmallIntegerField(_("day"), choices=WEEKDAYS)
    starts_at = models.TimeField(_("time"))

    class Meta:
        ordering = ["weekday", "starts_at"]
        constraints = [
            models.UniqueConstraint(fields=["class_group", "weekday", "starts_at"], name="one_meeting_at_a_time")
        ]

    def __str__(self) -> str:
        return f"{self.get_weekday_display()} {self.starts_at:%H:%M}"


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
        _("called"), max_length=40, blank=True, help_text=_("The name used at the barre, when it is not the first.")
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
        _("language of her pages"), max_length=10, choices=settings.FAMILY_LANGUAGES, blank=True,
        help_text=_("Empty: as the studio writes."),
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


class Enrolment(models.Model):
    """A student in a class for a term; leaving is a date, never a deletion."""

    student = models.ForeignKey(Student, models.PROTECT, related_name="enrolments")
    class_group = models.ForeignKey(ClassGroup, models.PROTECT, related_name="enrolments")
    term = models.ForeignKey(Term, models.PROTECT, related_name="enrolments")
    joined_on = models.DateField(_("joined on"))
    left_on = models.DateField(_("left on"), null=True, blank=True)
    # Her place in the class's line at the barre; whoever has none yet stands behind the others, by name.
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


class ImportDraft(models.Model):
    """A file that was brought in and waits for its preview to be confirmed; thrown away after a day."""

    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="+")
    kind = models.CharField(max_length=10, choices=[("roster", _("roster")), ("results", _("results"))])
    filename = models.CharField(max_length=200)
    content = models.BinaryField()
    answers = models.JSONField(default=dict)
    brought_at = models.DateTimeField(auto_now_add=True)

    def __str__(self) -> str:
        return self.filename
