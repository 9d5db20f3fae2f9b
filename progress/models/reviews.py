"""The review before pointe work: what people saw, point by point, and what they decided; appended, never changed."""
from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from progress.rules.pointe_points import POINTS
from studio.models import Student

# As much as the letter has room for on one page of Letter; tried out in the tests.
LONGEST_FOR_FAMILY = 900


class Review(models.Model):
    """One time that people looked at a student together. Later ones stand beside it; none is ever changed."""

    student = models.ForeignKey(Student, models.PROTECT, related_name="reviews")
    why = models.CharField(_("why now"), max_length=300, blank=True)
    opened_on = models.DateField()
    opened_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    opened_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-opened_on", "-pk"]

    def __str__(self) -> str:
        return f"{self.student}, {self.opened_on}"


class PointSeen(models.Model):
    """What one person says of one point. Of the rows of a person and point the last one is in force."""

    SEEN, NOT_YET, NOT_LOOKED = "seen", "not_yet", "not_looked"
    ANSWERS = [(SEEN, _("seen")), (NOT_YET, _("not yet")), (NOT_LOOKED, _("not looked at"))]
    TEACHER, ANOTHER, HEALTH = "teacher", "another", "health"
    WHOSE = [(TEACHER, _("teacher")), (ANOTHER, _("another teacher")), (HEALTH, _("health professional"))]

    review = models.ForeignKey(Review, models.PROTECT, related_name="seen")
    point = models.CharField(_("point"), max_length=10, choices=[(point.key, point.title) for point in POINTS])
    answer = models.CharField(_("what was seen"), max_length=10, choices=ANSWERS)
    words = models.CharField(_("in words"), max_length=500, blank=True)
    whose = models.CharField(_("whose view"), max_length=8, choices=WHOSE, default=TEACHER)
    # Whoever writes for somebody without a key here says whose words they are; of their own nothing.
    said_by = models.CharField(_("name"), max_length=120, blank=True)
    said_on = models.DateField(_("seen on"))
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(whose="teacher") | ~Q(said_by=""),
                name="view_says_whose_it_is",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.review}: {self.point} {self.answer}"

    @property
    def who(self) -> str:
        return self.said_by or self.by.name


class Decision(models.Model):
    """What people decided at a review, in their words. The last one of a review is in force."""

    TEACHER, FAMILY, HEALTH, STUDENT = "teacher", "family", "health", "student"
    ASKED = [
        (STUDENT, _("the student")), (FAMILY, _("the family")), (TEACHER, _("teachers")),
        (HEALTH, _("a health professional")),
    ]

    review = models.ForeignKey(Review, models.PROTECT, related_name="decisions")
    decided_on = models.DateField(_("decided on"))
    # Keys of ASKED.
    asked = models.JSONField(_("who was asked"), default=list)
    names = models.CharField(_("their names"), max_length=300, blank=True)
    decided = models.CharField(_("what was decided"), max_length=1000)
    from_on = models.DateField(_("from"), null=True)
    conditions = models.CharField(_("conditions"), max_length=500, blank=True)
    look_again_on = models.DateField(_("look again on"), null=True)
    for_family = models.CharField(_("for the family"), max_length=LONGEST_FOR_FAMILY, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(look_again_on__isnull=True) | Q(look_again_on__gt=models.F("decided_on")),
                name="look_again_after_deciding",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.review}: {self.decided[:60]}"
