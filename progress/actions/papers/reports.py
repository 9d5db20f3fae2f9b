"""Writes a term's reports: the order, each student's page once and for all, the bound file; knows no browser."""
import datetime as dt
import logging
import os
import zipfile
from collections.abc import Callable, Iterable
from pathlib import Path

from django.conf import settings
from django.db import transaction
from django.utils import timezone
from django.utils.text import slugify
from django.utils.translation import gettext as _
from django_tasks import task
from django_tasks_db.models import DBTaskResult

from progress.actions.papers.report_pages import digest_of, letters_lacking, page_of, reason_to_leave_out
from progress.models import IssuedReport, ReportRun, RunSheet
from progress.papers import paper
from progress.papers.binding import bind_apart
from studio.audit.actions import append
from studio.audit.models import AuditRow
from studio.locale import in_the_studio
from studio.models import Deed, Student, Term, User

log = logging.getLogger(__name__)
# Bound files hold a whole school's health data: they are made anew when they are wanted again. Our choice.
FILES_KEPT = dt.timedelta(days=14)
# What is being written now is younger than this.
HALF_MADE_KEPT = dt.timedelta(days=1)


@transaction.atomic
def order_reports(
    *, term: Term, kind: str, size: str, students: Iterable[Student], asked_on: dt.date, by: User
) -> ReportRun:
    """Orders a report for each of these students; they are printed one by one in the background."""
    run = ReportRun.objects.create(
        term=term, kind=kind, size=size, asked_on=asked_on, asked_by=by, expires_on=asked_on + FILES_KEPT
    )
    sheets = RunSheet.objects.bulk_create(
        RunSheet(run=run, student=student, position=at) for at, student in enumerate(students)
    )
    # In the same transaction: a process that is killed here has ordered everything or nothing.
    for sheet in sheets:
        print_sheet.enqueue(sheet.pk)
    if not sheets:
        bind_run.enqueue(run.pk)
    return run


@transaction.atomic
def stop_order(*, run: ReportRun, by: User) -> None:
    """Stops a run: what waits is left out, what is printed stays."""
    run = ReportRun.objects.select_for_update().get(pk=run.pk)
    if run.bound_at is None and run.cancelled_at is None:
        run.cancelled_at = timezone.now()
        run.save(update_fields=["cancelled_at"])
        Deed.note(run, Deed.STOPPED, by)


@task()
def print_sheet(sheet_id: int) -> None:
    """Prints one student's report; the last one binds the run. Twice is once: what is printed is left alone."""
    sheets = RunSheet.objects.select_related("run__term", "run__asked_by", "student")
    sheet = sheets.prefetch_related("run__term__holidays").filter(pk=sheet_id).first()
    if sheet is None:
        return
    if sheet.state == RunSheet.WAITING:
        with in_the_studio():
            report, reason = _report_or_reason(sheet)
        _finish(sheet, report, reason)
    _bind_when_done(sheet.run_id)


def _report_or_reason(sheet: RunSheet) -> tuple[IssuedReport | None, str]:
    """(the report of a student, its file beside it), or nothing and why."""
    run = sheet.run
    reason = _("The run was stopped.") if run.cancelled_at else reason_to_leave_out(run.kind, sheet.student, run.term)
    if reason:
        return None, reason
    try:
        report = issue_report(
            student=sheet.student, term=run.term, kind=run.kind, size=run.size, issued_on=run.asked_on, by=run.asked_by
        )
        printed_file(sheet, report)
    except paper.NotOurLetters as lacking:
        return None, letters_lacking(lacking)
    except Exception:
        # One report must not hold up all others: the office reads that it is missing, the log has the cause.
        log.exception("Report of sheet %s", sheet.pk)
        return None, _("It could not be printed. Order it again. The log says why.")
    return report, ""


@transaction.atomic
def _finish(sheet: RunSheet, report: IssuedReport | None, reason: str) -> None:
    done = RunSheet.objects.filter(pk=sheet.pk, state=RunSheet.WAITING).update(
        state=RunSheet.LEFT_OUT if reason else RunSheet.PRINTED, reason=reason, report=report, done_at=timezone.now(),
    )
    if done and report:
        append(
            outcome=AuditRow.EXPORTED, page="term-reports", role=AuditRow.STUDIO, person_key=sheet.run.asked_by_id,
            students=[sheet.student_id],
        )


def give_up_lost() -> None:
    """Leaves out students whose printing took its worker down too often; the run is bound without them."""
    failed = DBTaskResult.objects.failed().filter(task_path__endswith=f".{print_sheet.name}")
    lost = [row["args"][0] for row in failed.values_list("args_kwargs", flat=True)]
    for sheet in RunSheet.objects.filter(pk__in=lost, state=RunSheet.WAITING).select_related("run"):
        with in_the_studio():
            _finish(sheet, None, _("Printing it failed."))
        _bind_when_done(sheet.run_id)


def _bind_when_done(run_id: int) -> None:
    if not RunSheet.objects.filter(run=run_id, state=RunSheet.WAITING).exists():
        bind_run.enqueue(run_id)


@transaction.atomic
def issue_report(
    *, student: Student, term: Term, kind: str, size: str, issued_on: dt.date, by: User
) -> IssuedReport:
    """The report of a student and term as it stands now; the one there is, where it says the same.

    A report that was issued is never changed: where facts changed, the new one names the one it replaces. Raises
    paper.NotOurLetters, and issues nothing, where it would be printed in boxes.
    """
    Student.objects.select_for_update(no_key=True).get(pk=student.pk)
    last = IssuedReport.objects.filter(
        student=student, term=term, kind=kind, size=size, replaced_by__isnull=True
    ).first()
    made = page_of(kind, student, term)
    digest = digest_of(made)
    if last is not None and last.digest == digest:
        return last
    page = paper.in_our_letters(made.dated(issued_on, last.issued_on if last else None))
    return IssuedReport.objects.create(
        student=student, term=term, kind=kind, size=size, page=page, digest=digest, issued_on=issued_on,
        issued_by=by, replaces=last,
    )


@task()
def bind_run(run_id: int) -> None:
    """One file of all reports and one archive of single ones; made again where they are missing."""
    run = ReportRun.objects.filter(pk=run_id).select_related("term").first()
    if run is None:
        return
    # Without the pages: a whole school's would stand in memory, and hardly ever is one wanted.
    sheets = list(run.sheets.filter(state=RunSheet.PRINTED).select_related("student", "report").defer("report__page"))
    singles = [printed_file(sheet, sheet.report) for sheet in sheets]
    with in_the_studio():
        title = f"{run.term.name}, {run.get_kind_display()}"
    _write_with(folder_of(run) / "all.pdf", lambda path: bind_apart(path, singles, title))
    _write_with(folder_of(run) / "all.zip", lambda path: _zip(path, sheets))
    ReportRun.objects.filter(pk=run_id, bound_at__isnull=True).update(bound_at=timezone.now())


def _zip(path: Path, sheets: list[RunSheet]) -> None:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_STORED) as archive:
        for sheet in sheets:
            name = f"{sheet.position + 1:03}-{slugify(sheet.student.name) or 'student'}.pdf"
            archive.write(printed_file(sheet, sheet.report), name)


def remove_expired_files(*, today: dt.date) -> int:
    """Deletes the files of runs that are past their day; the reports themselves stay."""
    removed = 0
    for run in ReportRun.objects.filter(expires_on__lt=today):
        for file in folder_of(run).glob("*"):
            file.unlink(missing_ok=True)
            removed += 1
    return removed


def remove_half_made(*, now: dt.datetime) -> int:
    """Deletes files that a killed process left half-written a day ago, and folders of runs that are no more."""
    kept, removed = {str(key) for key in ReportRun.objects.values_list("key", flat=True)}, 0
    long_ago = (now - HALF_MADE_KEPT).timestamp()
    for folder in (Path(settings.VAR_DIR) / "reports").glob("*"):
        for file in folder.glob("*"):
            if folder.name not in kept or (file.suffix == ".part" and file.stat().st_mtime < long_ago):
                file.unlink(missing_ok=True)
                removed += 1
        if folder.name not in kept:
            folder.rmdir()
    return removed


def folder_of(run: ReportRun) -> Path:
    return Path(settings.VAR_DIR) / "reports" / str(run.key)


def printed_file(sheet: RunSheet, report: IssuedReport) -> Path:
    """The file of one issued report; printed where it is not there."""
    path = folder_of(sheet.run) / f"{sheet.pk}.pdf"
    if not path.exists():
        _write_with(path, lambda there: there.write_bytes(paper.pdf(report.page, size=report.size)))
    return path


def _write_with(path: Path, write: Callable[[Path], object]) -> None:
    # Written beside and renamed: a worker killed in the middle leaves no half file under the right name. Each process
    # beside its own: one that was given up as dead may still be writing.
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    beside = path.with_suffix(f"{path.suffix}.{os.getpid()}.part")
    write(beside)
    beside.replace(path)
