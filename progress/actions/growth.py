"""Writes heights: a fact, or a row that puts one right; nothing is changed and nothing goes."""
import datetime as dt
import uuid as uuids
from decimal import Decimal

from django.db import transaction
from django.utils.translation import gettext as _

from progress.models import Height
from studio import ledger
from studio.actions import Refused
from studio.models import Student, User


@transaction.atomic
def record_height(*, student: Student, height_cm: Decimal, measured_on: dt.date, by: User) -> Height:
    """One height of a day; the same one sent twice is one, another of the same day is refused."""
    Student.objects.select_for_update(no_key=True).get(pk=student.pk)
    there = student.heights.saying().filter(measured_on=measured_on).first()
    if there is not None and there.height_cm == height_cm:
        return there
    if there is not None:
        raise Refused(_("There is a height of this day already. Correct that one."))
    return ledger.append(
        Height, key=uuids.uuid4(), by=by, student=student, height_cm=height_cm, measured_on=measured_on
    )


@transaction.atomic
def correct_height(*, height: Height, height_cm: Decimal | None, measured_on: dt.date, by: User) -> Height:
    """Another height or day in the place of this one; without a height it is taken back."""
    Student.objects.select_for_update(no_key=True).get(pk=height.student_id)
    return ledger.append(
        Height, key=uuids.uuid4(), by=by, before=ledger.stands_for(height), height_cm=height_cm, measured_on=measured_on
    )
