"""Writes who at home was told of a pain; rows are added, never changed."""
import uuid as uuids

from django.db import transaction
from django.utils.translation import gettext as _

from progress.models import HomeTold, PainReport
from studio.actions import Refused
from studio.models import Guardian, Student, User


@transaction.atomic
def tell_home(
    *, key: uuids.UUID, report: PainReport, guardian: Guardian | None, who: str, way: str, note: str, by: User
) -> HomeTold:
    """Keeps that somebody at home was told, or could not be reached; the same key twice gives the same row."""
    Student.objects.select_for_update(no_key=True).get(pk=report.student_id)
    there = HomeTold.objects.filter(uuid=key).first()
    if there is not None:
        return there
    name = guardian.name if guardian else who.strip()
    if not name:
        raise Refused(_("Say who was told."))
    return HomeTold.objects.create(
        uuid=key, report=report, guardian=guardian, who=name, way=way, note=note.strip(), by=by
    )
