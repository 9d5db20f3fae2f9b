"""Writes about families: consents as facts, and the links of guardians; each is atomic and knows who acts."""
import datetime as dt
import hashlib
import secrets
from collections.abc import Iterable

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from studio.actions import Refused
from studio.family.models import Consent, GuardianKey, KeyTry
from studio.models import Deed, Guardian, Student, Studio, Term, User

# A term's reports are read in the weeks after it.
VALID_AFTER_TERM = dt.timedelta(days=30)
# Wrong birth dates behind one link: so many in an hour, and so many in all until it is made anew. A birth date of a
# known class is one of about 1,500 days, so fifteen tries find one link in a hundred; studio's own rule.
WRONG_IN_AN_HOUR, WRONG_IN_ALL = 5, 15
# So many wrong ones in an hour in the whole studio, and a link that had one of them waits too. Every other family
# still has its first try, so nobody locks a school out.
WRONG_IN_THE_STUDIO = 40
HOUR = dt.timedelta(hours=1)


@transaction.atomic
def record_consent(
    *, student: Student, scopes: Iterable[str], is_given: bool, said_by: str, way: str, at: dt.datetime, by: User | None
) -> None:
    """Appends that somebody agreed or took back, one fact a scope. `by` is None when the family itself did it."""
    Student.objects.select_for_update(no_key=True).get(pk=student.pk)
    Consent.objects.bulk_create(
        Consent(student=student, scope=s, is_given=is_given, said_by=said_by, way=way, at=at, recorded_by=by)
        for s in scopes
    )


def token_hash(token: str) -> str:
    """What is kept of a link. The token is random, so a plain hash is as good as a slow one."""
    return hashlib.sha256(token.encode()).hexdigest()


def new_token(guardian: Guardian) -> str:
    """A link's token, kept nowhere yet; Refused where nobody could open it."""
    if not guardian.students.filter(birth_on__isnull=False).exists():
        raise Refused(_("%(name)s has no child whose birth date is known here, so no link could be opened.") % {
            "name": guardian.name})
    return secrets.token_urlsafe(16)


@transaction.atomic
def make_key(*, guardian: Guardian, term: Term, by: User, token: str = "") -> str:
    """Ends the guardian's link, if there is one, and gives the token of a new one: the only time it is known.

    token: of `new_token`, where it was told already.
    """
    Guardian.objects.select_for_update().get(pk=guardian.pk)
    token = token or new_token(guardian)
    _end(guardian, by)
    GuardianKey.objects.create(
        guardian=guardian, token_hash=token_hash(token), valid_until=term.ends_on + VALID_AFTER_TERM, made_by=by
    )
    return token


@transaction.atomic
def end_key(*, guardian: Guardian, by: User) -> None:
    """The link and every device that was opened with it see nothing from now on."""
    Guardian.objects.select_for_update().get(pk=guardian.pk)
    _end(guardian, by)


def _end(guardian: Guardian, by: User) -> None:
    guardian.keys.filter(ended_at__isnull=True).update(ended_at=timezone.now(), ended_by=by)


@transaction.atomic
def prolong_key(*, key: GuardianKey, term: Term, by: User) -> None:
    """A card that stands goes on through this term; nobody needs a new one."""
    key.valid_until = max(key.valid_until, term.ends_on + VALID_AFTER_TERM)
    key.save(update_fields=["valid_until"])
    Deed.note(key, Deed.PROLONGED, by)


@transaction.atomic
def remove_guardian(*, guardian: Guardian, student: Student, by: User) -> None:
    """Parts guardian and student; with no other child here the guardian's link ends too."""
    Guardian.objects.select_for_update().get(pk=guardian.pk)
    guardian.students.remove(student)
    Deed.note(guardian, Deed.REMOVED, by)
    if not guardian.students.exists():
        _end(guardian, by)


@transaction.atomic
def close_device(*, opened: KeyTry, at: dt.datetime) -> None:
    """What the device keeps opens nothing any more, wherever a copy of it lies; the card opens it again."""
    KeyTry.objects.filter(pk=opened.pk, left_at__isnull=True).update(left_at=at)


@transaction.atomic
def try_birth_date(*, key: GuardianKey, birth_on: dt.date, at: dt.datetime) -> KeyTry | None:
    """The try that was right, kept; None where it was wrong. Refused, and not looked at, where tries are used up.

    All tries of the studio wait for one another, so that a hundred at once are counted like a hundred in a row.
    """
    Studio.objects.select_for_update().filter(pk=1).first()
    wrong = key.tries.filter(was_right=False)
    lately = KeyTry.objects.filter(was_right=False, at__gt=at - HOUR)
    mine = lately.filter(key=key).count()
    if wrong.count() >= WRONG_IN_ALL:
        raise Refused(_("Too many dates were tried with this link. Ask the studio for a new one."))
    if mine >= WRONG_IN_AN_HOUR or (mine and lately.count() >= WRONG_IN_THE_STUDIO):
        raise Refused(_("Too many dates were tried. Wait an hour, or ask the studio for a new link."))
    tried = KeyTry.objects.create(key=key, was_right=key.guardian.students.filter(birth_on=birth_on).exists())
    return tried if tried.was_right else None
