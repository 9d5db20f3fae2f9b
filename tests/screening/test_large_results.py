"""Large files of past results, written in the background: whole, once, under the right names, wherever it stops."""
import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone
from django_tasks import TaskResultStatus
from django_tasks_db.models import DBTaskResult

from progress.actions import past_results
from progress.actions.erasing import erase_student
from progress.actions.past_results import take_step, write_results
from progress.actions.standings import rebuild_standings
from progress.models import FollowUp, Standing
from screening.models import Result
from screening.results_check import check_draft
from studio.actions import Refused, keep_draft
from studio.models import ImportDraft, KeptImport
from tests.conftest import TODAY
from tests.screening.test_results_import import bring, confirm, everything

DAYS = [dt.date(2026, 1, 13) + dt.timedelta(weeks=week) for week in range(9)]
CHILDREN = {"Ama Owiredu": "Pre-pointe A", "Bettina Krall": "Pre-pointe A", "Greta Holmby": "Pre-pointe B"}
ROWS = [
    f"{name},{group},rises,{side},1,{10 + week + (side == 'left')},{day},Kim Who"
    for name, group in CHILDREN.items() for week, day in enumerate(DAYS) for side in ("left", "right")
]
FILE = "Student,Class,Test,Side,Attempt,Value,Date,Assessor\n" + "\n".join(ROWS) + "\n"


@pytest.fixture(autouse=True)
def nothing_is_small(monkeypatch):
    monkeypatch.setattr(past_results, "WRITTEN_AT_ONCE", 1)


def work_is_done():
    """Runs what was ordered, as a worker does."""
    for row in DBTaskResult.objects.filter(status=TaskResultStatus.READY):
        write_results.call(*row.args_kwargs["args"])
        row.delete()


def verdicts():
    rows = Standing.objects.order_by("student", "measure", "side")
    return list(rows.values_list("student", "measure", "side", "as_of", "verdict", "line"))


def test_a_large_file_is_confirmed_at_once_and_written_in_the_background(as_owner, cast):
    page = confirm(as_owner, bring(as_owner, cast, FILE))
    assert not Result.objects.exists()
    assert "0 of 54 results are in." in page.content.decode() and 'hx-trigger="every 2s"' in page.content.decode()
    assert "coming in" in as_owner.get(reverse("studio:kept-imports")).content.decode()
    work_is_done()
    assert Result.objects.count() == 54 and not ImportDraft.objects.exists()
    words = as_owner.get(reverse("progress:writing-results", args=[KeptImport.objects.get().pk])).content.decode()
    assert "All of it is in and judged: 54 new, 0 changed." in words and "every 2s" not in words


def test_what_is_written_and_judged_is_what_a_small_file_would_be(as_owner, cast, monkeypatch):
    confirm(as_owner, bring(as_owner, cast, FILE))
    work_is_done()
    there = verdicts()
    rebuild_standings()
    assert there and verdicts() == there
    assert {row.measured_by for row in Result.objects.all()} == {"Kim Who"}


def test_a_file_of_the_past_opens_no_follow_up(as_owner, cast):
    old = FILE
    for day in DAYS:
        old = old.replace(str(day), str(day - dt.timedelta(days=366)))
    confirm(as_owner, bring(as_owner, cast, old))
    work_is_done()
    assert Result.objects.exists() and not FollowUp.objects.exists()


@pytest.mark.parametrize("steps", range(7))
def test_wherever_a_worker_is_killed_the_next_one_goes_on_and_writes_nothing_twice(as_owner, cast, steps):
    confirm(as_owner, bring(as_owner, cast, FILE))
    draft = ImportDraft.objects.get()
    check, _group = check_draft(draft, today=TODAY)
    for _step in range(steps):
        take_step(draft.pk, check)
    work_is_done()
    assert Result.objects.count() == 54
    assert len(KeptImport.objects.get().written["results"]) == 54
    there = verdicts()
    rebuild_standings()
    assert verdicts() == there


def test_the_bar_goes_forward_with_every_step(as_owner, cast):
    confirm(as_owner, bring(as_owner, cast, FILE))
    draft, kept = ImportDraft.objects.get(), KeptImport.objects.get()
    check, _group = check_draft(draft, today=TODAY)
    shares = []
    while take_step(draft.pk, check):
        page = as_owner.get(reverse("progress:writing-results", args=[kept.pk]))
        shares.append(page.context["view"].share)
    assert shares == sorted(shares) and 0 < shares[0] < shares[-1] < 100


def test_what_the_studio_changed_meanwhile_is_left_out_and_said(as_owner, cast):
    confirm(as_owner, bring(as_owner, cast, FILE))
    confirm(as_owner, bring(as_owner, cast, "Student,Test,Side,Value,Date\nAma Owiredu,rises,left,3,2026-01-13\n"))
    write_results.call(ImportDraft.objects.get().pk)
    kept = KeptImport.objects.order_by("pk").first()
    assert Result.objects.get(student=cast.ama, side="L", taken_on="2026-01-13").value == 3
    assert (kept.counts["add"], kept.not_taken) == (53, 1)
    assert kept.left_out[0]["why"] == "The studio changed after the preview: bring this row once more."
    assert kept.left_out[0]["cells"][0] == "Ama Owiredu"


def test_what_failed_says_so_and_goes_on_when_asked(as_owner, cast, monkeypatch):
    confirm(as_owner, bring(as_owner, cast, FILE))
    kept = KeptImport.objects.get()
    monkeypatch.setattr(past_results, "refresh_standings", lambda **_what: 1 / 0)
    work_is_done()
    words = as_owner.get(reverse("progress:writing-results", args=[kept.pk])).content.decode()
    assert "It stopped before the end." in words and Result.objects.count() == 54
    monkeypatch.undo()
    as_owner.post(reverse("progress:go-on-writing", args=[kept.pk]))
    work_is_done()
    assert not ImportDraft.objects.exists() and Standing.objects.exists()


def test_nobody_working_is_said_after_two_minutes(as_owner, cast):
    confirm(as_owner, bring(as_owner, cast, FILE))
    draft = ImportDraft.objects.get()
    draft.work["at"] = (timezone.now() - dt.timedelta(minutes=3)).isoformat()
    draft.save()
    page = as_owner.get(reverse("progress:writing-results", args=[draft.kept_id])).content.decode()
    assert "Nothing was written for two minutes." in page


def test_it_can_be_taken_back_when_it_is_in_and_not_before(as_owner, cast):
    confirm(as_owner, bring(as_owner, cast, FILE))
    kept = KeptImport.objects.get()
    draft = ImportDraft.objects.get()
    take_step(draft.pk, check_draft(draft, today=TODAY)[0])
    before = everything()
    page = as_owner.post(reverse("progress:take-import-back", args=[kept.pk]), follow=True).content.decode()
    assert "This file is being written still." in page and everything() == before
    work_is_done()
    as_owner.post(reverse("progress:take-import-back", args=[kept.pk]))
    assert not Result.objects.in_force().exclude(reason_missing=Result.WITHDRAWN).exists()


def test_nothing_throws_away_what_is_being_written(as_owner, cast):
    confirm(as_owner, bring(as_owner, cast, FILE))
    ImportDraft.objects.update(brought_at=timezone.now() - dt.timedelta(days=2))
    keep_draft(kind="roster", filename="x.csv", content=b"x", answers={}, by=cast.owner)
    with pytest.raises(Refused, match="being written just now"):
        erase_student(student=cast.ama, by=cast.owner)
    work_is_done()
    assert Result.objects.count() == 54


def test_confirmed_twice_is_written_once_and_its_preview_leads_to_its_bar(as_owner, cast):
    preview = bring(as_owner, cast, FILE)
    confirm(as_owner, preview)
    again = confirm(as_owner, preview)
    assert "results are in." in again.content.decode()
    assert KeptImport.objects.count() == 1
    there = as_owner.get(reverse("progress:check-results", args=[preview.context["draft"].pk]))
    assert there.status_code == 302
    work_is_done()
    assert Result.objects.count() == 54
