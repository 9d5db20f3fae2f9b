"""What can quietly go wrong is found and said in words, with what to do; and the watcher's page tells nothing else."""
import datetime as dt
import fcntl
import io
import os
import shutil
import uuid
from collections import namedtuple
from contextlib import contextmanager
from decimal import Decimal

import pytest
from django.core.management import call_command
from django.db import DatabaseError
from django.test import Client
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from progress.actions import measuring
from screening.actions import Entry
from screening.models import Result
from studio.audit.models import AuditRow
from studio.network.addresses import Network
from studio.network.serving import PresentCertificate
from studio.upkeep import wellness
from studio.upkeep.home import BackupNote, keep_note
from studio.upkeep.wellness import BAD, SOON, WELL
from studio.version import VERSION
from tests.progress.test_measuring import record

Usage = namedtuple("Usage", "total used free")


@pytest.fixture
def var(settings, tmp_path):
    """A folder in which all is as it should be."""
    tmp_path.chmod(0o700)
    settings.VAR_DIR = tmp_path
    return tmp_path


@contextmanager
def at_work(var):
    """The background work as others see it: it holds its lock."""
    with (var / "work.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        yield var / "work.lock"


def good_backup(var, age=dt.timedelta(hours=3), **told):
    (var / "backups").mkdir(exist_ok=True)
    (var / "backups/risebook.zip").write_bytes(b"x" * 4_200_000)
    now = timezone.now()
    keep_note(var / "backups", BackupNote(made_at=now - age, path=str(var / "backups/risebook.zip"), bytes=4_200_000,
                                          **told))


@pytest.fixture
def well(cast, var):
    good_backup(var)
    with at_work(var) as lock:
        os.utime(lock, (timezone.now().timestamp(),) * 2)
        yield lock


def found(name):
    [finding] = [each for each in wellness.findings(timezone.now(), thorough=True) if each.name == name]
    return finding


def test_where_all_is_well_nothing_is_to_do(well):
    rows = wellness.findings(timezone.now(), thorough=True)
    assert [(row.state, row.todo) for row in rows] == [(WELL, "")] * 9
    assert rows[-1].words == f"Risebook {VERSION}"
    assert wellness.desk_words(timezone.now()) == ""


@pytest.mark.parametrize("free, state", [(10 ** 8, BAD), (10 ** 9, SOON), (10 ** 10, WELL)])
def test_a_disk_that_fills_is_told_before_it_is_full(well, monkeypatch, free, state):
    monkeypatch.setattr(shutil, "disk_usage", lambda folder: Usage(10 ** 11, 10 ** 11 - free, free))
    assert found("Disk").state == state
    assert (found("Disk").todo != "") is (state != WELL)


def test_a_folder_that_others_can_look_into_is_told_with_the_line_to_paste(well, var):
    var.chmod(0o755)
    assert found("Folder").state == SOON
    assert f"chmod 700 {var}" in found("Folder").todo


def test_a_restore_that_did_not_end_is_told(well, var):
    (var / "restoring").mkdir()
    assert (found("Folder").state, wellness.is_serving()) == (BAD, False)


def test_background_work_that_ended_is_told_on_the_desk(cast, var):
    good_backup(var)
    assert (found("Background work").state, found("Background work").words) == (
        BAD, "It does not run: ordered reports wait.")
    # What needs somebody now comes before what can wait.
    var.chmod(0o755)
    assert wellness.desk_words(timezone.now()) == "Background work: It does not run: ordered reports wait."


def test_background_work_that_hangs_is_told_by_when_it_was_last_heard_of(well):
    since = timezone.now() - dt.timedelta(minutes=5)
    os.utime(well, (since.timestamp(),) * 2)
    assert found("Background work").words == "It has not been heard of since 24 March 2026, 16:55."


def test_a_report_that_waits_too_long_is_told(well):
    row = DBTaskResult.objects.create(task_path="a.b", args_kwargs={"args": [], "kwargs": {}}, queue_name="default",
                                      backend_name="default", run_after=timezone.now())
    DBTaskResult.objects.filter(pk=row.pk).update(enqueued_at=timezone.now() - dt.timedelta(minutes=20))
    assert found("Background work").state == SOON
    assert "1 job waits for more than a quarter of an hour" in found("Background work").words


@pytest.mark.parametrize("hours, state", [(3, WELL), (40, SOON), (24 * 9, BAD)])
def test_an_old_backup_is_told_with_its_age_and_size(well, var, hours, state):
    good_backup(var, dt.timedelta(hours=hours))
    backup = found("Backup")
    assert (backup.state, "4.2 MB" in backup.words) == (state, True)
    assert (backup.words in wellness.desk_words(timezone.now())) is (state != WELL)


def test_a_backup_that_failed_since_the_last_good_one_is_told_with_the_reason(well, var):
    good_backup(var, failed_at=timezone.now(), why="The disk of /media has 9 MB free.")
    assert found("Backup").state == BAD
    assert "The disk of /media has 9 MB free." in found("Backup").words


def test_no_backup_at_all_is_bad(well, var):
    (var / "backups/last.json").unlink()
    assert (found("Backup").state, found("Backup").words) == (BAD, "There is none.")


def test_a_stick_that_was_pulled_out_is_told(well, var):
    (var / "backups/risebook.zip").unlink()
    assert (found("Backup").state, "cannot be seen now" in found("Backup").words) == (SOON, True)


def test_daily_mail_without_a_server_is_told(well, cast):
    cast.studio.sends_digest = True
    cast.studio.save()
    assert (found("Mail").state, "RISEBOOK_MAIL_URL" in found("Mail").todo) == (SOON, True)


def test_the_days_of_the_certificate_are_told(well, settings, tmp_path):
    settings.NETWORK = Network(8443, tmp_path / "network", "127.0.0.1")
    PresentCertificate(settings.NETWORK).present()
    certificate = found("Certificate")
    assert (certificate.state, "more days. It is made anew by itself." in certificate.words) == (WELL, True)
    later = timezone.now() + dt.timedelta(days=390)
    assert wellness.certificate(later).state == SOON


def test_a_clock_that_went_back_is_told(well):
    AuditRow.objects.create(outcome=AuditRow.SAW, page="studio:office", role=AuditRow.OWNER)
    now = timezone.now() - dt.timedelta(hours=1)
    assert wellness.clock(now).state == BAD
    assert "24 March 2026, 16:00" in wellness.clock(now).words


def test_a_clock_that_went_back_an_hour_changes_no_order_of_what_was_said(cast, time_machine):
    first = record(cast, 12)
    time_machine.move_to(timezone.now() - dt.timedelta(hours=1), tick=False)
    measuring.correct_result(key=uuid.uuid4(), result=first, entry=Entry(value=Decimal(14)), by=cast.teacher)
    record(cast, 16)
    assert [int(row.value) for row in Result.objects.in_force().order_by("attempt")] == [14, 16]


def test_a_database_that_does_not_answer_is_a_finding_and_no_stack_trace(well, monkeypatch):
    def refuses(thorough):
        raise DatabaseError("connection refused\nIs the server running?")

    monkeypatch.setattr(wellness, "database", refuses)
    assert (found("Database").state, found("Database").words) == (BAD, "Nobody can tell: connection refused")


def test_the_command_says_it_all_and_ends_with_one_where_something_is_bad(well, var):
    out = io.StringIO()
    call_command("check_up", stdout=out)
    assert f"   Version: Risebook {VERSION}" in out.getvalue()
    (var / "backups/last.json").unlink()
    with pytest.raises(SystemExit) as ended:
        call_command("check_up", stdout=out)
    assert ended.value.code == 1
    assert "!! Backup: There is none.\n     In a terminal in Risebook’s folder: ./risebook backup" in out.getvalue()


def test_the_owner_reads_it_in_the_office(well, var, as_owner):
    (var / "backups/last.json").unlink()
    page = as_owner.get("/office/how-is-it/").content.decode()
    assert "One thing needs you now." in page
    assert "There is none." in page
    assert "There is none." in as_owner.get("/office/").content.decode()


def test_the_owner_takes_the_last_backup_along_and_that_is_written_down(well, as_owner):
    answer = as_owner.get("/office/how-is-it/backup/")
    assert len(b"".join(answer.streaming_content)) == 4_200_000
    assert 'filename="risebook.zip"' in answer.headers["Content-Disposition"]
    assert AuditRow.objects.filter(page="studio:last-backup", outcome=AuditRow.EXPORTED).count() == 1


def test_the_watchers_page_says_one_word_and_writes_nothing(well, cast):
    rows = AuditRow.objects.count()
    answer = Client().get("/health/")
    assert (answer.status_code, answer.content, answer.cookies.keys()) == (200, b"well\n", {}.keys())
    assert AuditRow.objects.count() == rows


def test_the_watchers_page_does_not_call_a_read_only_studio_well(well, monkeypatch):
    with monkeypatch.context() as patch:
        patch.setattr(os, "access", lambda path, mode: False)
        answer = Client().get("/health/")
    assert (answer.status_code, answer.content) == (503, b"not well\n")
