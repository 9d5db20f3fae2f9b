"""Who agreed to what for a child, and the keys by which a family opens its own page; knows no measurement."""
from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _


class Consent(models.Model):
    """That somebody agreed to something for a student, or took it back. A fact: appended, never changed."""

    MEASUREMENTS, PAIN, FAMILY, CLINICIAN = "measurements", "pain", "family", "clinician"
    SCOPES = [
        (MEASUREMENTS, _("measurements")), (PAIN, _("pain notes")), (FAMILY, _("the family’s page")),
        (CLINICIAN, _("sharing with a clinician")),
    ]
    FORM, SPOKEN, LETTER, PAGE = "form", "spoken", "letter", "page"
    WAYS = [
        (FORM, _("signed form")), (SPOKEN, _("in person")), (LETTER, _("letter or e-mail")),
        (PAGE, _("on the family’s page")),
    ]
    student = models.ForeignKey("studio.Student", models.PROTECT, related_name="consents")
    scope = models.CharField(_("what for"), max_length=12, choices=SCOPES)
    is_given = models.BooleanField(_("given"))
    said_by = models.CharField(_("who said so"), max_length=120)
    way = models.CharField(_("how"), max_length=8, choices=WAYS, default=FORM)
    at = models.DateTimeField(_("when"))
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    recorded_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [models.Index(fields=["student", "scope", "-at"], name="consent_latest")]
        constraints = [
            models.CheckConstraint(
                condition=Q(scope__in=["measurements", "pain", "family", "clinician"]), name="consent_scope_known"
            ),
            # Only the family itself writes without anybody of the studio.
            models.CheckConstraint(
                condition=Q(recorded_by__isnull=False) | Q(way="page"), name="consent_recorded_by_somebody"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.student_id} {self.scope}: {self.is_given}"


class GuardianKey(models.Model):
    """A private link of one guardian. The link itself is kept by nobody but the guardian: here lies only its hash."""

    guardian = models.ForeignKey("studio.Guardian", models.PROTECT, related_name="keys")
    token_hash = models.CharField(max_length=64, unique=True)
    valid_until = models.DateField(_("valid until"))
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    made_at = models.DateTimeField(auto_now_add=True)
    ended_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    ended_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-made_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["guardian"], condition=Q(ended_at__isnull=True), name="one_standing_key_a_guardian"
            ),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True, ended_by__isnull=True)
                | Q(ended_at__isnull=False, ended_by__isnull=False),
                name="key_ended_who_and_when",
            ),
        ]

    def __str__(self) -> str:
        return f"key {self.pk} of guardian {self.guardian_id}"


class KeyTry(models.Model):
    """A birth date that was typed behind a link: right or wrong, never the date itself."""

    key = models.ForeignKey(GuardianKey, models.CASCADE, related_name="tries")
    was_right = models.BooleanField()
    at = models.DateTimeField(auto_now_add=True)
    # When the device that it opened was closed: what it keeps opens nothing since.
    left_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [models.Index(fields=["was_right", "at"], name="key_try_recent")]

    def __str__(self) -> str:
        return f"{self.key_id}: {self.was_right}"
