"""The wire of the ledger: what a tablet is told of every tap, be it a result, an attendance or an entry of the log."""
import uuid as uuids
from collections.abc import Collection
from typing import Any

from django.db.models import Q

from screening.models import Result, Screening
from studio.models import Tap, User


def told_tap(row: Tap) -> dict[str, Any]:
    """Of a row whose `supersedes` and `by` are read already: its key, the tap whose words it carries, what it stands in
    the place of ("" where it is the first), whose hand, and when (ISO 8601)."""
    return {
        "key": str(row.key), "origin": str(row.origin), "corrects": str(row.supersedes.key) if row.supersedes else "",
        "by_id": row.by_id, "by": initials(row.by), "tapped": row.tapped_at.isoformat(),
    }


def initials(user: User | None) -> str:
    """ "OB" of Ottoline Brack; "" of nobody."""
    return "".join(part[0] for part in user.name.split()[:3]).upper() if user else ""


def whose_results(
    *, students: set[int | None], of: Collection[str], screenings: Collection[int]
) -> tuple[set[int], set[int]]:
    """The students and the classes whose results such taps may change: named in them, or by what they take `of` back;
    whatever names nobody is left out."""
    keys = {found for text in of if (found := _key(text))}
    said = Result.objects.filter(Q(key__in=keys) | Q(origin__in=keys)) if keys else Result.objects.none()
    groups = Screening.objects.filter(pk__in=screenings).values_list("class_group", flat=True)
    return students - {None} | set(said.values_list("student", flat=True)), set(groups)


def _key(text: str) -> uuids.UUID | None:
    try:
        return uuids.UUID(text)
    except ValueError:
        return None
