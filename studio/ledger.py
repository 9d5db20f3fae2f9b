"""The ledger of taps: appends, corrects, takes back, and says what stands; no row is ever changed, nothing is guessed.

A first entry and a correction speak for themselves. Taking back appends a row that says again what stood before the
tap, under the origin of those words; where nothing stood before, one that says so.
"""
import datetime as dt
import uuid as uuids
from collections.abc import Iterable
from typing import Any

from django.db import transaction
from django.db.models import Q, QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _

from studio.actions import Refused
from studio.models import Tap, User


class Conflict(Exception):
    """The same key came twice with different contents; the first stays."""


def append(
    model: type[Tap], *, key: uuids.UUID, by: User | None, before: Tap | None = None, origin: uuids.UUID | None = None,
    tapped_at: dt.datetime | None = None, **says: Any,
) -> Tap:
    """A new row: the first of its place, or in the place of `before`, whose words it keeps where it says nothing else.

    origin: the tap whose words it carries, its own where none is given. tapped_at: now, where nobody says.
    """
    kept = {name: getattr(before, name) for name in (*model.PLACE, *model.SAYS)} if before is not None else {}
    return model.objects.create(
        **kept | says, key=key, origin=origin or key, by=by, supersedes=before, tapped_at=tapped_at or timezone.now()
    )


def stands_for(row: Tap) -> Tap:
    """The row that says now what this one said: itself, or the one under the same origin that stands for it again
    since later taps were taken back. Refused where something else stands."""
    last = latest(row)
    if last.origin != row.origin:
        raise Refused(_("Somebody changed it meanwhile. Look at it again."))
    return last


def latest(row: Tap) -> Tap:
    """The row that stands in the place of this one."""
    while (later := type(row).objects.filter(supersedes=row).first()) is not None:
        row = later
    return row


@transaction.atomic
def take_back(
    *ledgers: QuerySet, key: uuids.UUID, of: uuids.UUID, by: User, tapped_at: dt.datetime | None = None
) -> list[Tap]:
    """Takes the tap `of` back from every row that it made: what stood before it stands again, in new rows.

    ledgers: the rows within reach of the person, of one model each, locked by the caller. of: the origin of what
    stands, or the key of an earlier taking back, which is taken back in its turn. Given is what stands since: sent
    twice, or taken back by somebody else already, the rows that stood. Refused where something newer stands.
    """
    for rows in ledgers:
        # One tap may have made several first rows, each under a key of its own.
        of = rows.filter(key=of, supersedes=None).values_list("origin", flat=True).first() or of
    taken = [row for rows in ledgers for row in _take_back(rows, key, of, by, tapped_at)]
    return taken or _taken_back_before(ledgers, of)


def _take_back(rows: QuerySet, key: uuids.UUID, of: uuids.UUID, by: User, tapped_at: dt.datetime | None) -> list[Tap]:
    if done := list(rows.model.objects.filter(key=key).select_related("supersedes")):
        if any(row.supersedes is None or of not in (row.supersedes.origin, row.supersedes.key) for row in done):
            raise Conflict
        return done
    is_shared = not rows.model._meta.get_field("key").unique
    return [
        _put_back(row, of=of, by=by, tapped_at=tapped_at,
                  key=key if is_shared or not at else uuids.uuid5(key, str(row.pk)))
        for at, row in enumerate(rows.in_force().filter(Q(origin=of) | Q(key=of)).order_by("pk"))
    ]


def _put_back(row: Tap, *, of: uuids.UUID, key: uuids.UUID, **who: Any) -> Tap:
    before = _said_first(row, of).supersedes
    if before is None:
        return append(type(row), before=row, key=key, **row.NOTHING, **who)
    says = {name: getattr(before, name) for name in row.SAYS}
    return append(type(row), before=row, key=key, origin=before.origin, **says, **who)


def _said_first(row: Tap, of: uuids.UUID) -> Tap:
    """The row by which the tap `of` came to stand in the place of this one."""
    first, earlier = row, row.supersedes if row.origin == of else None
    while earlier is not None:
        first = earlier if earlier.origin == of else first
        earlier = earlier.supersedes
    return first


def _taken_back_before(ledgers: Iterable[QuerySet], of: uuids.UUID) -> list[Tap]:
    told = {(type(row), row.pk): row for rows in ledgers for row in map(latest, rows.filter(Q(origin=of) | Q(key=of)))}
    if not told:
        raise Refused(_("The tap that this one takes back is not here."))
    if not all(is_nothing(row) or row.origin != row.key and row.supersedes.origin == of for row in told.values()):
        raise Refused(_("Somebody changed it meanwhile. Look at it again."))
    return list(told.values())


def is_nothing(row: Tap) -> bool:
    """Whether the row only says that what stood here was taken back."""
    return all(getattr(row, name) == value for name, value in row.NOTHING.items())
