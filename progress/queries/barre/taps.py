"""The wire of the ledger: what a tablet is told of every tap, be it a result, an attendance or an entry of the log."""
from typing import Any

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
