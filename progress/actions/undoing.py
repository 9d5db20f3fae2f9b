"""Takes back, as a whole, what a file brought in, as long as nothing hangs on its rows and nobody changed them."""
import uuid
from collections.abc import Iterable
from typing import Any

from django.db import models, transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from progress.actions.standings import judging_classes, refresh_standings
from progress.queries.hanging import hanging
from screening.models import Result
from studio import ledger
from studio.actions import Refused, plain
from studio.models import ClassGroup, Enrolment, Guardian, ImportDraft, KeptImport, StageChange, Student, Studio, User

_TABLES: dict[str, type[models.Model]] = {"student": Student, "guardian": Guardian, "enrolment": Enrolment}
# How many names a refusal says.
_NAMED = 3


@transaction.atomic
def undo_import(*, kept: KeptImport, by: User) -> None:
    """Takes a whole file back; its results stay as rows that were withdrawn, its students were never there.

    Raises Refused, with the names, where something hangs on a row (a result, a report, a class log), where a value was
    changed since, or where what was written is no longer on record.
    """
    Studio.objects.select_for_update().get(pk=1)
    kept = KeptImport.objects.select_for_update().get(pk=kept.pk)
    if ImportDraft.objects.filter(kept=kept).exists():
        raise Refused(_("This file is being written still. Take it back when it is in."))
    if kept.undone_at is not None or not kept.written:
        raise Refused(_("This file can no longer be taken back."))
    if kept.kind == "roster":
        _undo_roster(kept.written)
    else:
        _undo_results(kept.written["results"], by)
    kept.undone_at, kept.undone_by, kept.written = timezone.now(), by, {}
    kept.save(update_fields=["undone_at", "undone_by", "written"])


def _undo_roster(written: dict[str, Any]) -> None:
    made = {
        Student: set(written["students"]), Enrolment: set(written["enrolments"]),
        StageChange: set(written["stages"]), Guardian: set(written["guardians"]),
    }
    _refuse_hanging(made, {tuple(pair) for pair in written["joined"]})
    _refuse_changed(written["changed"])
    restaged = {key for table, key, field, *_values in written["changed"] if table == "student" and field == "stage_id"}
    classes = judging_classes(restaged)
    for guardian, student in written["joined"]:
        Guardian.students.through.objects.filter(guardian=guardian, student=student).delete()
    # What points at others goes before them.
    for model in (Enrolment, StageChange, Guardian, Student):
        model._base_manager.filter(pk__in=made[model]).delete()
    for table, key, field, before, _now in written["changed"]:
        _TABLES[table].objects.filter(pk=key).update(**{field: before})
    # A class stays where it was taken into use since.
    unused = [key for key in written.get("classes", ()) if len(hanging({ClassGroup: {key}})) == 1]
    ClassGroup.objects.filter(pk__in=unused).delete()
    refresh_standings(class_ids=classes, over_on=timezone.localdate())


def _refuse_hanging(made: dict[type[models.Model], set[int]], joined: set[tuple[int, int]]) -> None:
    """Refuses where a row that the file did not make points at one that it made."""
    through = Guardian.students.through
    holders: list[str] = []
    for model in (Student, Enrolment, Guardian):
        for row in model._base_manager.filter(pk__in=made[model]):
            found = hanging({model: {row.pk}})
            if any(keys - made.get(kind, set()) for kind, keys in found.items() if kind is not through):
                holders.append(str(getattr(row, "student", row)))
    pairs = through.objects.filter(models.Q(guardian__in=made[Guardian]) | models.Q(student__in=made[Student]))
    others = [each for each in pairs.select_related("student") if (each.guardian_id, each.student_id) not in joined]
    holders += [each.student.name for each in others]
    if holders:
        words = _("Something was written about them since: %(names)s. Nothing is taken back.")
        raise Refused(words % {"names": _names(holders)})


def _names(names: Iterable[str]) -> str:
    known = list(dict.fromkeys(names))
    more = [_("and %(n)s more") % {"n": len(known) - _NAMED}] if len(known) > _NAMED else []
    return ", ".join([*known[:_NAMED], *more])


def _refuse_changed(changed: list[list[Any]]) -> None:
    others = []
    for table, key, field, _before, now in changed:
        row = _TABLES[table].objects.filter(pk=key).first()
        if row is None or plain(getattr(row, field)) != now:
            others.append(str(row) if row else _("somebody who is gone"))
    if others:
        raise Refused(
            _("Somebody changed this since: %(names)s. Nothing is taken back.") % {"names": _names(others)})


def _undo_results(keys: list[int], by: User) -> None:
    rows = Result.objects.filter(pk__in=keys).select_related("supersedes", "student")
    again = rows.filter(pk__in=Result.objects.filter(supersedes__in=keys).values("supersedes"))
    if rows.count() != len(keys) or again.exists():
        raise Refused(_("Somebody changed this since: %(names)s. Nothing is taken back.") % {
            "names": _names(row.student.name for row in again) or _("a student who was erased")})
    touched = set(rows.values_list("student_id", flat=True))
    list(Student.objects.filter(pk__in=touched).order_by("pk").select_for_update(no_key=True))
    classes = judging_classes(touched)
    for row in rows.order_by("pk"):
        ledger.take_back(rows, key=uuid.uuid4(), of=row.origin, by=by)
    since = min(rows.values_list("taken_on", flat=True), default=None)
    refresh_standings(class_ids=classes | judging_classes(touched), since=since)
