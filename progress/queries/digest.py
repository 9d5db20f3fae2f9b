"""Reads what a person's daily mail says: how much waits for them, by kind, and where; no child's name."""
import datetime as dt
from collections import Counter
from dataclasses import dataclass

from django.conf import settings
from django.db.models import Q, QuerySet
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from progress.models import FollowUp
from progress.queries import follow_ups_in_reach
from studio.models import User


@dataclass(frozen=True)
class Digest:
    """One mail. The subject says how many, and nobody's name."""

    person: User
    subject: str
    body: str


def people_to_write_to(*, is_for_all: bool) -> QuerySet[User]:
    """Who works here, has an address, and for whom the owner turned the mail on."""
    people = User.objects.filter(is_active=True).exclude(email="").order_by("pk")
    return people if is_for_all else people.filter(gets_digest=True)


def digest_for(person: User, *, today: dt.date, now: dt.datetime) -> Digest | None:
    """What is due for this person, and what is open in their reach; None on a day without anything due."""
    reach = follow_ups_in_reach(person, today=today, now=now).filter(closed_at__isnull=True)
    mine = list(reach.filter(Q(acts=person), due_on__lte=today).values_list("kind", "due_on"))
    if not mine:
        return None
    late = sum(due_on < today for _kind, due_on in mine)
    counts = Counter(kind for kind, _due_on in mine)
    lines = [f"{words}: {counts[kind]}" for kind, words in FollowUp.KINDS if counts[kind]]
    if late:
        lines.append(ngettext("%(n)s of them is late.", "%(n)s of them are late.", late) % {"n": late})
    lines += ["", f"{settings.LINKS}{reverse('progress:follow-ups')}?view=mine"]
    others = reach.count() - len(mine)
    if others:
        lines += ["", ngettext(
            "%(n)s more is open where you teach:", "%(n)s more are open where you teach:", others) % {"n": others},
            f"{settings.LINKS}{reverse('progress:follow-ups')}"]
    lines += ["", _("Names stand on the pages only, behind your password. The owner turns this mail on and off.")]
    subject = ngettext("%(n)s follow-up is due", "%(n)s follow-ups are due", len(mine)) % {"n": len(mine)}
    return Digest(person, subject, "\n".join(lines) + "\n")
