"""Keeps what the owner made stricter in the answers to pain; each keeping is a new row."""
from collections.abc import Collection

from django.utils.translation import gettext as _

from progress.models import StricterPainRule
from progress.rules import feet, pain
from studio.actions import Refused
from studio.models import User


def keep_pain_rule(*, doctor_from: int, doctor_places: Collection[str], reason: str, by: User) -> StricterPainRule:
    """A new row, in force from the next report on; what was answered before stays as it was.

    Refused where it would be milder than the program's own table, and without a reason.
    """
    try:
        rule = pain.Stricter(doctor_from, frozenset(doctor_places))
    except ValueError as milder:
        raise Refused(_("The rules may be stricter than the program’s, never milder.")) from milder
    if not rule.doctor_places <= pain.names_of(feet.PLACE_KEYS):
        raise Refused(_("Choose places from the list."))
    if not reason.strip():
        raise Refused(_("Say why, for whoever reads it later."))
    return StricterPainRule.objects.create(
        doctor_from=rule.doctor_from, doctor_places=sorted(rule.doctor_places), reason=reason.strip(), made_by=by
    )
