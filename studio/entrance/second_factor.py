"""The second factor: codes of an authenticator app (RFC 6238) and recovery codes; reads, checks and writes them.

An enrolled tablet is itself something one has: its token lies in a cookie that no script and no other browser
reaches. So a PIN or a password on it is the second of two factors, and no code is asked for there.
"""
import secrets
from base64 import b32encode
from binascii import unhexlify
from datetime import datetime

from django.db import transaction
from django_otp.plugins.otp_static.models import StaticDevice, StaticToken
from django_otp.plugins.otp_totp.models import TOTPDevice

from studio.entrance.keys import Visit
from studio.models import Studio, User

RECOVERY_CODES = 10


def has_second_factor(person: User) -> bool:
    return TOTPDevice.objects.filter(user=person, confirmed=True).exists()


def is_asked_of(person: User, studio: Studio) -> bool:
    """True where the owner wants a second factor of everybody in this person's role."""
    return studio.second_factor_for == Studio.EVERYBODY or studio.second_factor_for == person.role


def recovery_codes_left(person: User) -> int:
    return StaticToken.objects.filter(device__user=person).count()


def new_key() -> str:
    """160 random bits in hex, as many as RFC 4226 recommends."""
    return secrets.token_hex(20)


def key_words(key: str) -> str:
    """The key as people type it into an app: base 32, in fours."""
    text = b32encode(unhexlify(key)).decode()
    return " ".join(text[at:at + 4] for at in range(0, len(text), 4))


def address_for_app(person: User, key: str) -> str:
    return TOTPDevice(user=person, key=key).config_url


class TooSoon(Exception):
    """After wrong codes the next is looked at only after a while: 1, 2, 4, 8 ... seconds."""

    def __init__(self, until: datetime):
        super().__init__(until)
        self.until = until


@transaction.atomic
def set_up(*, person: User, key: str, code: str, here: str) -> list[str] | None:
    """Keeps the key if the code fits it; gives recovery codes, or None. Ends the person's other visits."""
    app = TOTPDevice(user=person, key=key, name="app")
    if not app.verify_token(code):
        # The library wrote the failure down.
        app.delete()
        return None
    TOTPDevice.objects.filter(user=person).exclude(pk=app.pk).delete()
    Visit.objects.filter(person=person).exclude(pk=here).delete()
    return make_recovery_codes(person=person)


@transaction.atomic
def make_recovery_codes(*, person: User) -> list[str]:
    """Ten codes that open once each, in the place of all before. The app's key lies beside them as readable as they."""
    StaticDevice.objects.filter(user=person).delete()
    sheet = StaticDevice.objects.create(user=person, name="recovery")
    codes = [StaticToken.random_token() for _n in range(RECOVERY_CODES)]
    StaticToken.objects.bulk_create(StaticToken(device=sheet, token=code) for code in codes)
    return codes


@transaction.atomic
def check_code(*, person: User, code: str) -> bool:
    """True for a code of the app or a recovery code, each once; the rows are locked, so that two at once are one."""
    code = code.replace(" ", "").lower()
    kind = TOTPDevice if code.isdecimal() else StaticDevice
    device = kind.objects.select_for_update().filter(user=person, confirmed=True).first()
    if device is None:
        return False
    is_allowed, why = device.verify_is_allowed()
    if not is_allowed:
        raise TooSoon(why["locked_until"])
    return device.verify_token(code)


@transaction.atomic
def remove_second_factor(*, person: User, by: User | None, here: str = "") -> None:
    """The person comes in by password alone again; their visits end, but for the one here."""
    for kind in (TOTPDevice, StaticDevice):
        kind.objects.filter(user=person).delete()
    Visit.objects.filter(person=person).exclude(pk=here).delete()
