"""Erases one student: the one exception to "never changed, never deleted"; nothing of the student is left to read."""
import re
import uuid
from collections import Counter
from datetime import datetime, timedelta

from django.apps import apps
from django.db import connection, models, transaction
from django.db.models import Count
from django.utils import timezone
from django.utils.translation import gettext as _

from progress.actions.papers.reports import bind_run, folder_of
from progress.actions.standings import judging_classes, refresh_standings
from progress.models import Erasure, ReportRun, RunSheet
from progress.queries.hanging import hanging
from progress.queries.judged import counted
from progress.rules.names import written
from screening.models import Result, Screening
from studio.actions import Refused
from studio.audit.models import AuditRow
from studio.entrance.keys import Visit
from studio.entrance.sessions import SessionStore
from studio.models import Guardian, ImportDraft, KeptImport, Student, User

APPS = ("studio", "screening", "progress")
# Figures stay only where at least so many others were measured on the same day: fewer, and somebody who was there
# could tell whose they are. Counts under five are commonly held back in print; common practice, no source.
FEWEST_OTHERS = 5
REMOVED_WORDS = "[…]"
# How long this house waits for a locked database otherwise.
BUSY_SECONDS = 20


@transaction.atomic
def erase_student(*, student: Student, by: User) -> Erasure:
    """Removes everything that hangs on the student, in every table, and their name from what was said of others.

    Figures that a class rests on go to a student without name, birth date or past. Their number is nobody's: it is
    new, so no old copy and no row of the audit leads from the student to them.
    """
    if ImportDraft.objects.exclude(kept=None).exists():
        raise Refused(_("A file of past results is being written just now. Erase as soon as it is in."))
    student = Student.objects.select_for_update().get(pk=student.pk)
    number, name, classes = student.pk, student.name, judging_classes([student.pk])
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            # Freed pages are overwritten, else the text stays readable in the file.
            cursor.execute("PRAGMA secure_delete=ON")
    since = student.results.order_by("taken_on").values_list("taken_on", flat=True).first()
    runs = list(ReportRun.objects.filter(sheets__student=student))
    sheets = list(RunSheet.objects.filter(student=student).values_list("run__key", "pk"))
    kept = _keep_figures(student)
    removed = _remove_hanging(student)
    ImportDraft.objects.all().delete()
    KeptImport.objects.update(headings=[], left_out=[], written={})
    _forget_messages()
    removed["mentions"] = _take_out_name(name)
    refresh_standings(class_ids=classes | judging_classes([kept[0].pk] if kept[0] else []), since=since)
    _remove_files(runs, sheets)
    return Erasure.objects.create(
        number=number, removed=dict(sorted(removed.items())), results_kept=kept[1], erased_by=by
    )


def _keep_figures(student: Student) -> tuple[Student | None, int]:
    """Gives the figures that stay to a nameless student: the last word of each attempt, without fault or history.

    What no figure of a class rests on, such as what was measured despite a rest, goes: it would tell of pain alone.
    """
    measured = Screening.objects.filter(pk__in=student.results.values("screening"))
    together = measured.annotate(n=Count("results__student", distinct=True))
    large = together.filter(n__gt=FEWEST_OTHERS).values("pk")
    rows = list(counted(student.results.in_force()).filter(value__isnull=False, screening__in=large))
    if not rows:
        return None, 0
    nameless = Student.objects.create(name=_("Former student"), is_nameless=True, stage=student.stage)
    spoken = _assessors_unsaid(student, rows, nameless)
    for row in rows:
        row.student, row.supersedes, row.fault, row.key = nameless, None, "", uuid.uuid4()
        row.origin = row.key
        row.assessor_name = spoken.get(row.assessor_name, row.assessor_name)
    changed = ["student", "supersedes", "fault", "key", "origin", "assessor_name"]
    Result.objects.bulk_update(rows, changed, batch_size=500)
    return nameless, len(rows)


def _assessors_unsaid(student: Student, rows: list[Result], nameless: Student) -> dict[str, str]:
    """What a file said of who measured the student, and nobody else, by what takes its place: it may name them, but
    the judge must tell one assessor from another as before."""
    said = {row.assessor_name for row in rows} - {""}
    others = Result.objects.filter(assessor_name__in=said).exclude(student=student)
    hers = sorted(said - set(others.values_list("assessor_name", flat=True)))
    return {words: f"{REMOVED_WORDS} {nameless.pk}.{number}" for number, words in enumerate(hers, start=1)}


def _remove_hanging(student: Student) -> Counter:
    """Everything that points at the student, and at what does so, by the tables' own keys; says how much of what."""
    # Counted from all guardians: the student's own rows of the relation would count this student alone.
    counted = Guardian.objects.filter(pk__in=student.guardians.values("pk")).annotate(n=Count("students"))
    alone = counted.filter(n=1).values_list("pk", flat=True)
    found = hanging({Student: {student.pk}, Guardian: set(alone)})
    for model, keys in found.items():
        rows = model._base_manager.filter(pk__in=keys)
        # Straight to the table: pain reports and their kin refuse to be deleted, and the database asks for its
        # foreign keys at the end of the transaction only.
        rows._raw_delete(rows.db)
    return Counter({model._meta.model_name: len(keys) for model, keys in found.items()})


def _take_out_name(name: str) -> int:
    """The whole name, however it is written, out of whatever was said of others; says in how many places."""
    changed, pattern, likely = 0, written(name), re.findall(r"[a-z]+", name, re.IGNORECASE)
    # The database's own search knows the letters of English only, so it looks for the longest run of those.
    asked = max(likely, key=len, default="")
    for model, field in free_texts():
        for row in model._base_manager.filter(**{f"{field.name}__icontains": asked}).only("pk", field.name):
            words, count = pattern.subn(REMOVED_WORDS, getattr(row, field.name))
            if count:
                model._base_manager.filter(pk=row.pk).update(**{field.name: words})
                changed += 1
    return changed


def free_texts() -> list[tuple[type[models.Model], models.Field]]:
    """Every column of ours in which somebody may have typed words."""
    return [
        (model, field)
        for app in APPS for model in apps.get_app_config(app).get_models() if model not in (AuditRow, Visit)
        for field in model._meta.concrete_fields
        if isinstance(field, models.CharField | models.TextField) and not field.choices and not field.unique
    ]


def _forget_messages() -> None:
    """Messages that wait in visits for the next page may name the student: they go unread."""
    store = SessionStore()
    for visit in Visit.objects.all():
        held = store.decode(visit.session_data)
        if held.pop("_messages", None) is not None:
            visit.session_data = store.encode(held)
            visit.save(update_fields=["session_data"])


def _remove_files(runs: list[ReportRun], sheets: list[tuple]) -> None:
    """The student's printed pages, and the bound files with them in; these are bound anew where they are still kept."""
    keys = {run.key: run for run in runs}
    for key, sheet in sheets:
        # Half-written ones, too: each process writes beside, under a name with its own number.
        for name in (f"{sheet}.pdf", "all.pdf", "all.zip"):
            for file in folder_of(keys[key]).glob(f"{name}*"):
                file.unlink(missing_ok=True)
    today = timezone.localdate()
    for run in runs:
        if run.bound_at is not None and run.expires_on >= today - timedelta(days=1):
            transaction.on_commit(lambda pk=run.pk: bind_run.enqueue(pk))


def is_tidy(*, erasure: Erasure, at: datetime) -> bool:
    """True once the erased words are in no file of the database; the certificate holds from then on.

    SQLite's log of changes keeps the old pages while anybody reads: it is emptied after the transaction, and where a
    reader is in the way the certificate waits, and this is asked again. PostgreSQL takes its old rows away by itself.
    """
    if erasure.gone_at is None and tidy_database():
        erasure.gone_at = at
        erasure.save(update_fields=["gone_at"])
    return erasure.gone_at is not None


def tidy_database() -> bool:
    """Empties SQLite's log of changes; False where a reader keeps it from being emptied."""
    if connection.vendor != "sqlite":
        return True
    if connection.in_atomic_block:
        return False
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA busy_timeout=2000")
        is_busy, pages, moved = cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
        cursor.execute(f"PRAGMA busy_timeout={BUSY_SECONDS * 1000}")
    # -1: this database has no such log.
    return not is_busy and pages in (0, -1, moved)
