"""Writes of the entrance: enrol and revoke a tablet, set a PIN, try one, end visits; each is atomic."""
import hashlib
import secrets

from django.contrib.auth.hashers import check_password, make_password
from django.db import transaction
from django.db.models import F
from django.utils import timezone

from studio.entrance.keys import Pin, PinTries, Tablet, Visit
from studio.models import Deed, User

# Five of at most 10,000 PINs: one chance in 2,000 for a stranger with the tablet in hand.
TRIES = 5


class PinRested(Exception):
    """Too many wrong PINs on this tablet: the person's password is needed before a PIN counts again."""


def hash_of(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


@transaction.atomic
def enrol_tablet(*, name: str, by: User) -> tuple[Tablet, str]:
    """The tablet and its token, which nobody can read again later."""
    token = secrets.token_urlsafe(32)
    return Tablet.objects.create(name=name, token_hash=hash_of(token), enrolled_by=by), token


@transaction.atomic
def revoke_tablet(*, tablet: Tablet, by: User) -> None:
    """Ends every visit on it and makes its token worthless; the person who revoked it first stays written down."""
    open_one = Tablet.objects.filter(pk=tablet.pk, revoked_at__isnull=True)
    open_one.update(revoked_at=timezone.now(), revoked_by=by)
    Visit.objects.filter(tablet=tablet).delete()


@transaction.atomic
def set_pin(*, person: User, pin: str) -> Pin:
    """A new PIN in the place of the old one; what was guessed at the old one is worth nothing."""
    kept, _made = Pin.objects.update_or_create(
        person=person, defaults={"hashed": make_password(pin), "set_at": timezone.now()}
    )
    PinTries.objects.filter(person=person).delete()
    return kept


@transaction.atomic
def remove_pin(*, person: User, here: str) -> None:
    """Without the PIN the person comes in by password only; visits that a PIN began end, but for this one here."""
    Pin.objects.filter(person=person).delete()
    Visit.objects.filter(person=person, way=Visit.PIN).exclude(pk=here).delete()


def try_pin(*, tablet: Tablet, person: User, pin: str) -> bool:
    """True for the right PIN. A try is counted before it is looked at, so that many at once get five together."""
    mine = PinTries.objects.filter(tablet=tablet, person=person)
    PinTries.objects.get_or_create(tablet=tablet, person=person)
    if not mine.filter(wrong__lt=TRIES).update(wrong=F("wrong") + 1):
        raise PinRested
    return check_password(pin, person.pin.hashed)


def forget_tries(*, tablet: Tablet, person: User) -> None:
    """After a right PIN or password the count begins anew."""
    PinTries.objects.filter(tablet=tablet, person=person).update(wrong=0)


@transaction.atomic
def keep_account(*, person: User, by: User, here: str) -> None:
    """The account as it was typed. With an account its visits and its PIN end, on every browser and tablet; another
    role is come in with anew, but for the visit in which it was typed."""
    before = User.objects.select_for_update().get(pk=person.pk)
    person.save()
    Deed.note(person, Deed.CHANGED, by)
    if (before.is_active, before.role) != (person.is_active, person.role):
        Visit.objects.filter(person=person).exclude(pk=here).delete()
    if not person.is_active:
        Pin.objects.filter(person=person).delete()
        PinTries.objects.filter(person=person).delete()


def end_visits_elsewhere(*, person: User, here: str) -> int:
    """Logs the person out of every browser and tablet but the one that asks."""
    count, _each = Visit.objects.filter(person=person).exclude(pk=here).delete()
    return count
