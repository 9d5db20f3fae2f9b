"""The row of the ledger of taps: one shape for every fact that a hand can take back; rows are appended, never changed.
"""
import uuid

from django.conf import settings
from django.db import models
from django.utils import timezone


class TapQuerySet(models.QuerySet):
    def in_force(self) -> "TapQuerySet":
        """Those that no later row replaces."""
        return self.filter(superseded_by__isnull=True)

    def saying(self) -> "TapQuerySet":
        """Those that stand and were not taken back."""
        return self.in_force().exclude(**self.model.NOTHING)

    def last_of(self, by: models.Model) -> "Tap | None":
        """What Undo offers: this person's latest tap whose words stand."""
        return self.filter(key__in=self.saying().values("origin"), by=by).order_by("-pk").first()

    def bulk_create(self, objs, *args, **kwargs):
        objs = list(objs)
        for row in objs:
            row.origin = row.origin or row.key
        return super().bulk_create(objs, *args, **kwargs)


class Tap(models.Model):
    """One fact as a hand told it; written by studio/ledger.py.

    key: the tap's own, made where it was tapped. origin: the key of the tap whose words this row carries; another one
    than `key` where a taking back brought earlier words to stand again. supersedes: the row in whose place it stands.
    tapped_at: when the hand did it; received_at: when it came to the studio, hours later after a night without network.
    """

    # Fields that say what it is about, the same in every later row; fields that say what; what a taken back one says.
    PLACE: tuple[str, ...] = ()
    SAYS: tuple[str, ...] = ()
    NOTHING: dict = {}

    key = models.UUIDField(default=uuid.uuid4, db_index=True, editable=False)
    origin = models.UUIDField(db_index=True, editable=False)
    supersedes = models.OneToOneField("self", models.PROTECT, null=True, related_name="superseded_by")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    tapped_at = models.DateTimeField(default=timezone.now)
    received_at = models.DateTimeField(auto_now_add=True)

    objects = TapQuerySet.as_manager()

    class Meta:
        abstract = True

    def save(self, *args, **kwargs):
        self.origin = self.origin or self.key
        super().save(*args, **kwargs)
