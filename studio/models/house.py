"""Whose house this is, who works in it, and a file that waits to be brought in."""
import zoneinfo

from django.conf import settings
from django.contrib.auth.models import AbstractUser
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _


def validate_time_zone(name: str) -> None:
    """Refuses a name that the time-zone database does not know."""
    if name not in zoneinfo.available_timezones():
        raise ValidationError(_("“%(name)s” is not a time zone. Example: Europe/London."), params={"name": name})


class Studio(models.Model):
    """The one row that says whose house this is and how it writes dates and numbers."""

    name = models.CharField(_("name"), max_length=120, default="Risebook")
    phone = models.CharField(
        _("telephone"), max_length=40, blank=True,
        help_text=_("For families and on the note for a clinician. Leave empty to print none."),
    )
    email = models.EmailField(
        _("e-mail"), blank=True, help_text=_("For families and on the note for a clinician. Leave empty to print none.")
    )
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
    sends_digest = models.BooleanField(_("a daily mail to everyone who has something to see to"), default=False)
    consent_asked_from = models.DateField(
        _("consent is asked for from"), null=True, blank=True,
        help_text=_(
            "From this day on, measurements and pain notes need a recorded consent. Left empty, only a consent that "
            "was taken back counts."
        ),
    )
    family_address = models.URLField(
        _("address for families"), blank=True, max_length=200,
        help_text=_(
            "What stands on their cards, for example https://studio.example. Leave empty for the address this page "
            "was opened with."
        ),
    )
    months_kept = models.PositiveSmallIntegerField(
        _("months kept after leaving"), default=24,
        help_text=_(
            "Then a student’s records are due for erasure. This is the studio’s own rule. Local law may ask for "
            "longer."
        ),
    )
    audit_months = models.PositiveSmallIntegerField(
        _("months who-saw-what is kept"), default=36, validators=[MinValueValidator(12), MaxValueValidator(240)],
        help_text=_("Long enough for a family to ask, and no longer. The studio’s own rule; the assessment says why."),
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
    gets_digest = models.BooleanField(_("a daily mail when there is something to see to"), default=False)
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


class ImportDraft(models.Model):
    """A file that was brought in and waits for its preview to be confirmed; thrown away after a day.

    kept, work: of a large file that was confirmed and is being written in the background, what will be kept of it, and
    how far the work is (`progress/actions/past_results.py`); the draft goes with its last step.
    """

    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="+")
    kind = models.CharField(max_length=10, choices=[("roster", _("class list")), ("results", _("results"))])
    filename = models.CharField(max_length=200)
    content = models.BinaryField()
    answers = models.JSONField(default=dict)
    brought_at = models.DateTimeField(auto_now_add=True)
    kept = models.OneToOneField("studio.KeptImport", models.CASCADE, null=True, related_name="draft")
    work = models.JSONField(default=dict)

    def __str__(self) -> str:
        return self.filename


class KeptImport(models.Model):
    """What became of a file that was brought in: who, when, how many rows, and those that were not taken.

    left_out: a list of {"row", "cells", "why"} in the columns of `headings`, so that they can be mended and brought
    again. Thrown away after a year, and all of them when a student is erased: nobody can tell whose a cell is.
    written: the keys of the rows that were made, and what stood in those that were changed, so that all of it can be
    taken back (`progress/actions/undoing.py`); empty where it can be no more.
    """

    kind = models.CharField(max_length=10, choices=[("roster", _("class list")), ("results", _("results"))])
    filename = models.CharField(max_length=200)
    at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    class_group = models.ForeignKey("studio.ClassGroup", models.SET_NULL, null=True, related_name="+")
    term = models.ForeignKey("studio.Term", models.SET_NULL, null=True, related_name="+")
    counts = models.JSONField(default=dict)
    headings = models.JSONField(default=list)
    left_out = models.JSONField(default=list)
    written = models.JSONField(default=dict)
    undone_at = models.DateTimeField(null=True)
    undone_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return self.filename

    @property
    def row_count(self) -> int:
        return sum(self.counts.values())

    @property
    def taken(self) -> int:
        return sum(self.counts.get(outcome, 0) for outcome in ("add", "change", "same"))

    @property
    def not_taken(self) -> int:
        return self.row_count - self.taken
