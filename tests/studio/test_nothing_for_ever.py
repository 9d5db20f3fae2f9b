"""Nothing is kept for ever: what the background work throws away, and what it leaves."""
import datetime as dt
import os

import pytest
from axes.models import AccessAttempt
from django.utils import timezone

from progress.actions.papers.reports import folder_of, remove_half_made
from progress.models import ReportRun
from studio.actions import keep_draft
from studio.audit.models import AuditRow
from studio.clearing import clear_what_is_over
from studio.entrance.keys import Visit
from studio.models import ImportDraft, Studio
from tests.conftest import TODAY
from tests.test_access import entered

A_DAY = dt.timedelta(days=1)


def clear():
    return clear_what_is_over(now=timezone.now(), today=TODAY)


def test_a_file_that_nobody_confirmed_goes_after_a_day(cast):
    for hours in (23, 25):
        draft = keep_draft(kind="roster", filename=f"{hours}.csv", content=b"x", answers={}, by=cast.owner)
        ImportDraft.objects.filter(pk=draft.pk).update(brought_at=timezone.now() - dt.timedelta(hours=hours))
    assert clear().drafts == 1
    assert [draft.filename for draft in ImportDraft.objects.all()] == ["23.csv"]


def test_a_visit_that_is_over_goes_and_one_that_lasts_stays(cast):
    for person in ("teacher", "owner"):
        entered(cast, person)
    ended = Visit.objects.filter(person=cast.teacher)
    assert ended.update(expire_date=timezone.now() - dt.timedelta(seconds=1)) == clear().visits == 1
    assert [visit.person for visit in Visit.objects.all()] == [cast.owner]


def test_tries_of_passwords_go_after_thirty_days(db):
    for days in (29, 31):
        tried = AccessAttempt.objects.create(
            username=f"{days}", ip_address="192.0.2.7", get_data="", post_data="", failures_since_start=1)
        AccessAttempt.objects.filter(pk=tried.pk).update(attempt_time=timezone.now() - days * A_DAY)
    assert clear().entries == 1
    assert AccessAttempt.objects.get().username == "29"


@pytest.mark.parametrize("months, stays", [(12, ["2025-03-24"]), (13, ["2025-03-23", "2025-03-24"])])
def test_who_saw_what_ends_with_the_months_that_the_owner_set(cast, months, stays):
    Studio.objects.update(audit_months=months)
    days = dt.date(2025, 3, 23), dt.date(2025, 3, 24)
    for day in days:
        row = AuditRow.objects.create(role="owner", outcome="saw", page=day.isoformat())
        _set_day(row.pk, dt.datetime.combine(day, dt.time(12), dt.UTC))
    clear()
    assert sorted(AuditRow.objects.values_list("page", flat=True)) == stays


def _set_day(key, at):
    """Past the model, which refuses every change."""
    super(type(AuditRow.objects.all()), AuditRow.objects.filter(pk=key)).update(at=at)


def test_a_half_made_file_goes_after_a_day_and_so_does_the_folder_of_no_run(cast, settings, tmp_path):
    settings.VAR_DIR = tmp_path
    run = ReportRun.objects.create(
        term=cast.term, kind="record", size="A4", asked_on=TODAY, asked_by=cast.owner, expires_on=TODAY)
    here, nobodys = folder_of(run), tmp_path / "reports" / "of-no-run"
    for folder in (here, nobodys):
        folder.mkdir(parents=True)
    for name, hours in (("1.pdf", 99), ("1.pdf.7.part", 25), ("2.pdf.8.part", 23)):
        at = (timezone.now() - dt.timedelta(hours=hours)).timestamp()
        (here / name).touch()
        os.utime(here / name, (at, at))
    (nobodys / "all.pdf").touch()
    assert remove_half_made(now=timezone.now()) == 2
    assert sorted(file.name for file in here.iterdir()) == ["1.pdf", "2.pdf.8.part"] and not nobodys.exists()
