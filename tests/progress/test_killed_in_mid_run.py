"""Runs of reports whose worker, printer or server breaks down: nothing is lost or done twice, nobody is held up."""
import datetime as dt
import os
import signal
import subprocess
import sys
import time

import pytest
from django.conf import settings as project
from django.db import connection
from django.utils import timezone
from django_tasks import TaskResultStatus
from django_tasks_db.models import DBTaskResult

from progress.actions.papers import reports
from progress.actions.papers.background import REMEMBERED, TRIES, forget_finished, give_back
from progress.models import IssuedReport, ReportRun, RunSheet
from progress.papers import paper
from studio.audit.models import AuditRow
from tests.progress.test_reports import at_once, files_of_its_own, measure, order  # noqa: F401


def task_row(path: str = "x", **fields) -> DBTaskResult:
    return DBTaskResult.objects.create(**{
        "status": TaskResultStatus.RUNNING, "args_kwargs": {"args": [], "kwargs": {}}, "task_path": path,
        "run_after": timezone.now(), "backend_name": "default", "worker_ids": [], "exception_class_path": "",
        "traceback": "", **fields,
    })


def test_what_a_dead_worker_had_begun_waits_again_and_is_given_up_after_three_tries(cast):
    rows = [task_row(worker_ids=workers) for workers in (["dead"], ["alive"], ["dead"] * TRIES)]
    assert give_back(alive={"alive"}) == 1
    assert [DBTaskResult.objects.get(pk=row.pk).status for row in rows] == ["READY", "RUNNING", "FAILED"]


def test_whoever_took_the_printer_down_each_time_is_left_out_and_the_others_are_bound(cast, settings):
    measure(cast, cast.ama, cast.class_group)
    run = order(cast, [cast.ama])
    DBTaskResult.objects.update(status=TaskResultStatus.RUNNING, worker_ids=["dead"] * TRIES)
    give_back(alive=set())
    reports.give_up_lost()
    reports.give_up_lost()
    assert run.sheets.get().reason == "Printing it failed."
    bind, = DBTaskResult.objects.filter(status=TaskResultStatus.READY)
    assert bind.task_path.endswith("bind_run") and bind.args_kwargs["args"] == [run.pk]


def test_an_order_is_written_whole_or_not_at_all(cast, monkeypatch):
    calls = []

    def killed(*_args):
        calls.append(1)
        if len(calls) == 2:
            raise KeyboardInterrupt

    monkeypatch.setattr(type(reports.print_sheet), "enqueue", killed)
    with pytest.raises(KeyboardInterrupt):
        order(cast, [cast.ama, cast.bettina])
    assert not ReportRun.objects.exists() and not RunSheet.objects.exists()


def test_one_that_cannot_be_written_holds_up_nobody(cast, at_once, monkeypatch):  # noqa: F811
    for child in (cast.ama, cast.bettina):
        measure(cast, child, cast.class_group)
    print_it = paper.pdf

    def full_disk(page, **more):
        if "Ama Owiredu" in page:
            raise OSError("No space left on device")
        return print_it(page, **more)

    monkeypatch.setattr(paper, "pdf", full_disk)
    run = order(cast, [cast.ama, cast.bettina])
    run.refresh_from_db()
    assert [sheet.state for sheet in run.sheets.all()] == ["left_out", "printed"] and run.bound_at
    assert run.sheets.first().reason.startswith("It could not be printed.")


def test_two_that_write_the_same_file_are_not_in_each_others_way(tmp_path, monkeypatch):
    path = tmp_path / "1.pdf"

    def overtaken(beside):
        beside.write_text("first")
        monkeypatch.setattr(os, "getpid", lambda: 1)
        reports._write_with(path, lambda there: there.write_text("second"))

    reports._write_with(path, overtaken)
    assert path.read_text() == "first" and list(tmp_path.iterdir()) == [path]


def test_a_worker_given_up_as_dead_that_goes_on_changes_nothing(cast, at_once, monkeypatch):  # noqa: F811
    measure(cast, cast.ama, cast.class_group)
    write = reports.printed_file

    def overtaken(sheet, report):
        monkeypatch.setattr(reports, "printed_file", write)
        reports.print_sheet.call(sheet.pk)
        raise OSError("killed here")

    monkeypatch.setattr(reports, "printed_file", overtaken)
    run = order(cast, [cast.ama])
    assert run.sheets.get().state == "printed" and IssuedReport.objects.count() == 1
    assert AuditRow.objects.filter(page="term-reports").count() == 1


def test_the_queue_forgets_what_ended_long_ago(cast):
    now = timezone.now()
    for status, days in (("SUCCESSFUL", 1), ("SUCCESSFUL", -1), ("FAILED", 1)):
        task_row(status=status, finished_at=now - REMEMBERED - dt.timedelta(days=days))
    task_row()
    forget_finished(now=now)
    assert sorted(DBTaskResult.objects.values_list("status", flat=True)) == ["RUNNING", "SUCCESSFUL"]


# --- killed for real -----------------------------------------------------------------------------


def work(tmp_path) -> subprocess.Popen:
    """`manage.py work` as `./risebook run` starts it, on this test's database and files."""
    now = connection.settings_dict
    address = f"sqlite:///{now['NAME']}"
    if connection.vendor == "postgresql":
        address = f"postgres://{now['USER']}@/{now['HOST']}/{now['NAME']}"
    env = {**os.environ, "DATABASE_URL": address, "RISEBOOK_VAR_DIR": str(tmp_path), "RISEBOOK_STATIC_MANIFEST": "no"}
    command = [sys.executable, "manage.py", "work", "--workers", "1"]
    return subprocess.Popen(command, cwd=project.BASE_DIR, env=env, start_new_session=True)


def kill(started: subprocess.Popen) -> None:
    os.killpg(started.pid, signal.SIGKILL)
    started.wait()


def wait_until(true, seconds: float = 120) -> None:
    until = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < until, "it took too long"
        time.sleep(0.05)


@pytest.mark.thorough
@pytest.mark.django_db(transaction=True)
def test_killed_in_mid_run_and_started_again_nothing_is_lost_or_repeated(cast, tmp_path):
    children = [cast.ama, cast.bettina, cast.other_student, cast.out_of_reach]
    groups = [cast.class_group, cast.class_group, cast.other_class, cast.lonely_class]
    for child, group in zip(children, groups, strict=True):
        measure(cast, child, group)
    run = order(cast, children)
    first = work(tmp_path)
    try:
        wait_until(lambda: RunSheet.objects.filter(state=RunSheet.PRINTED).exists())
    finally:
        kill(first)
    printed = {sheet.pk: sheet.report_id for sheet in RunSheet.objects.filter(state=RunSheet.PRINTED)}
    second = work(tmp_path)
    try:
        wait_until(lambda: ReportRun.objects.get(pk=run.pk).bound_at is not None)
    finally:
        kill(second)
    assert IssuedReport.objects.count() == run.sheets.filter(state=RunSheet.PRINTED).count() == 4
    assert printed.items() <= {sheet.pk: sheet.report_id for sheet in run.sheets.all()}.items()
    assert AuditRow.objects.filter(page="term-reports").count() == 4
