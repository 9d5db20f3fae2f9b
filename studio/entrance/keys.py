"""What opens the entrance and who is in: enrolled tablets, PINs, their wrong tries, and visits; knows no page."""
from django.conf import settings
from django.contrib.sessions.base_session import AbstractBaseSession
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _


class Tablet(models.Model):
    """A browser that the owner enrolled for everybody's PIN; revoking is a date, never a deletion."""

    name = models.CharField(_("name"), max_length=60, help_text=_("Where it stands: Tablet by the window."))
    # 32 random bytes, so a plain SHA-256 of them cannot be searched; the token itself is only in the cookie.
    token_hash = models.CharField(max_length=64, unique=True)
    enrolled_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    enrolled_at = models.DateTimeField(auto_now_add=True)
    seen_at = models.DateTimeField(null=True)
    revoked_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    revoked_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(revoked_by__isnull=True, revoked_at__isnull=True)
                | Q(revoked_by__isnull=False, revoked_at__isnull=False),
                name="tablet_revoked_by_somebody_at_a_time",
            )
        ]

    def __str__(self) -> str:
        return self.name


class Pin(models.Model):
    """A person's PIN, as an argon2 hash; it opens enrolled tablets only."""

    person = models.OneToOneField(settings.AUTH_USER_MODEL, models.CASCADE, related_name="pin")
    hashed = models.CharField(max_length=128)
    set_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"PIN of {self.person}"


class PinTries(models.Model):
    """How many PINs of one person were wrong on one tablet since the last right one."""

    tablet = models.ForeignKey(Tablet, models.CASCADE, related_name="tries")
    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="+")
    wrong = models.PositiveSmallIntegerField(default=0)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["tablet", "person"], name="one_count_of_tries_a_person_and_tablet")
        ]

    def __str__(self) -> str:
        return f"{self.wrong} wrong PINs of {self.person} on {self.tablet}"


class Visit(AbstractBaseSession):
    """A session as the studio needs it: whose it is, on which tablet, how it began and when it was last used."""

    PASSWORD, PIN, CODE = "password", "pin", "code"
    WAYS = [(PASSWORD, _("password")), (PIN, _("PIN")), (CODE, _("password and code"))]
    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, null=True, related_name="visits")
    tablet = models.ForeignKey(Tablet, models.CASCADE, null=True, related_name="visits")
    way = models.CharField(max_length=10, choices=WAYS, default=PASSWORD)
    browser = models.CharField(max_length=60, blank=True)
    began_at = models.DateTimeField()
    seen_at = models.DateTimeField()

    class Meta:
        ordering = ["-seen_at"]
