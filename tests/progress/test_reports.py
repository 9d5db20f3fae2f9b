"""A term's reports: issued once for the same facts, never changed, printed in the background, resumed after a kill."""
import datetime as dt
import uuid
import zipfile
from decimal import Decimal

import pikepdf
import pytest
from django.urls import reverse
from django.utils import timezone

from progress.actions.papers import reports
from progress.models import IssuedReport
from progress.papers import paper
from progress.queries.papers.reports import order_view, students_of_term
from screening.actions import Entry, correct_result
from screening.models import Protocol
from studio.models import Student
from tests import factories
from tests.conftest import TODAY
from tests.progress.read_back import cells, drawings

AT_ONCE = {"default": {"BACKEND": "django_tasks.backends.immediate.ImmediateBackend"}}


@pytest.fixture(autouse=True)
def files_of_its_own(settings, tmp_path):
    settings.VAR_DIR = tmp_path


@pytest.fixture
def at_once(settings):
    settings.TASKS = AT_ONCE


def measure(cast, child, group, value=12):
    held = factories.ScreeningFactory(class_group=group, term=cast.term, held_on=TODAY)
    return factories.ResultFactory(
        screening=held, student=child, measure=cast.rises, protocol=Protocol.objects.get(measure=cast.rises), side="L",
        value=value, taken_on=TODAY, by=cast.teacher,
    )


def issue(cast, child, on=TODAY):
    return reports.issue_report(
        student=child, term=cast.term, kind=IssuedReport.RECORD, size="A4", issued_on=on, by=cast.owner
    )


def order(cast, students):
    return reports.order_reports(
        term=cast.term, kind=IssuedReport.RECORD, size="A4", students=students, asked_on=TODAY, by=cast.owner
    )


def test_the_same_facts_are_issued_once_whatever_the_day(cast):
    measure(cast, cast.ama, cast.class_group)
    first = issue(cast, cast.ama)
    again = issue(cast, cast.ama, on=TODAY + dt.timedelta(days=3))
    assert again == first and paper.pdf(again.page) == paper.pdf(first.page)


def test_a_correction_makes_a_new_report_that_names_the_old_one_and_leaves_it_alone(cast):
    result = measure(cast, cast.ama, cast.class_group)
    first = issue(cast, cast.ama)
    printed = paper.pdf(first.page)
    correct_result(key=uuid.uuid4(), result=result, entry=Entry(value=Decimal(15)), by=cast.teacher)
    second = issue(cast, cast.ama, on=TODAY + dt.timedelta(days=3))
    first.refresh_from_db()
    assert second.replaces == first and "replaces the one of 24 March 2026" in second.page
    assert paper.pdf(first.page) == printed and "replaces" not in first.page


def test_a_run_prints_everyone_and_says_who_was_left_out_and_why(
    cast, at_once, django_capture_on_commit_callbacks
):
    measure(cast, cast.ama, cast.class_group)
    with django_capture_on_commit_callbacks(execute=True):
        run = order(cast, [cast.ama, cast.bettina])
    run.refresh_from_db()
    view = order_view(run, today=TODAY, now=timezone.now())
    assert (view.total, view.printed, view.done, view.is_over, view.has_files) == (2, 1, 2, True, True)
    assert [(s.student.name, s.reason) for s in view.left_out] == [
        ("Bettina Krall", "Nothing was measured in this term.")]
    with pikepdf.open(reports.folder_of(run) / "all.pdf") as bound:
        assert len(bound.pages) >= 1
    assert zipfile.ZipFile(reports.folder_of(run) / "all.zip").namelist() == ["001-ama-owiredu.pdf"]


def test_the_bound_file_is_tagged_and_opens_at_a_student(cast, at_once, django_capture_on_commit_callbacks, tmp_path):
    for child in (cast.ama, cast.bettina):
        measure(cast, child, cast.class_group)
    with django_capture_on_commit_callbacks(execute=True):
        run = order(cast, [cast.ama, cast.bettina])
    folder = reports.folder_of(run)
    bound = (folder / "all.pdf").read_bytes()
    singles = [path.read_bytes() for path in sorted(folder.glob("[0-9]*.pdf"))]
    assert cells(bound, tmp_path) == [cell for single in singles for cell in cells(single, tmp_path)]
    assert sorted(drawings(bound)) == sorted(words for single in singles for words in drawings(single))
    with pikepdf.open(folder / "all.pdf") as whole, whole.open_outline() as outline:
        assert [line.title for line in outline.root] == ["Ama Owiredu, Spring term", "Bettina Krall, Spring term"]
        assert whole.open_metadata()["dc:title"] == "Spring term, student record"
        assert [int(page.StructParents) for page in whole.pages] == list(range(len(whole.pages)))


def test_who_is_written_in_letters_that_the_paper_lacks_is_left_out_and_the_others_go_on(
    as_owner, cast, at_once
):
    for child in (cast.ama, cast.bettina):
        measure(cast, child, cast.class_group)
    Student.objects.filter(pk=cast.ama.pk).update(name="ნინო")
    run = order(cast, [cast.ama, cast.bettina])
    words = "The font on paper has no ი ნ ო. To print the name, write it in Latin letters as well."
    assert [(sheet.state, sheet.reason) for sheet in run.sheets.all()] == [("left_out", words), ("printed", "")]
    assert IssuedReport.objects.get().student == cast.bettina
    page = as_owner.get(f"/office/reports/{run.key}/").content.decode()
    assert words in page and "One file to print" in page
    alone = as_owner.get(f"/students/{cast.ama.pk}/record/")
    assert alone.status_code == 422 and words in alone.content.decode()


def test_a_stopped_run_leaves_out_who_still_waits_and_says_so_once(as_owner, cast, settings):
    for child in (cast.ama, cast.bettina):
        measure(cast, child, cast.class_group)
    run = order(cast, [cast.ama, cast.bettina])
    reports.stop_order(run=run, by=cast.owner)
    settings.TASKS = AT_ONCE
    for sheet in run.sheets.all():
        reports.print_sheet.call(sheet.pk)
    assert {sheet.reason for sheet in run.sheets.all()} == {"The run was stopped."}
    assert not IssuedReport.objects.exists()
    page = " ".join(as_owner.get(f"/office/reports/{run.key}/").content.decode().split())
    assert "Stopped. 0 of 2 printed." in page and page.count("The run was stopped.") == 1
    assert "Ama Owiredu, Bettina Krall" in page


def test_a_run_that_nobody_prints_says_so_after_two_minutes(as_owner, cast, time_machine):
    run = order(cast, [cast.ama, cast.bettina])
    address, words = f"/office/reports/{run.key}/", "Nothing was printed for two minutes."
    time_machine.shift(dt.timedelta(seconds=119))
    assert words not in as_owner.get(address).content.decode()
    time_machine.shift(dt.timedelta(seconds=2))
    assert words in as_owner.get(address).content.decode()
    run.sheets.filter(position=1).update(state="printed", done_at=timezone.now())
    assert words not in as_owner.get(address).content.decode()


def test_files_past_their_day_are_removed_and_the_reports_stay(
    as_owner, cast, at_once, django_capture_on_commit_callbacks
):
    measure(cast, cast.ama, cast.class_group)
    with django_capture_on_commit_callbacks(execute=True):
        run = order(cast, [cast.ama])
    address = f"/office/reports/{run.key}/all.pdf"
    taken = as_owner.get(address)
    assert taken.status_code == 200 and b"".join(taken.streaming_content).startswith(b"%PDF")
    assert as_owner.get(f"/office/reports/{run.key}/..%2f..%2fsecret-key").status_code == 404
    assert reports.remove_expired_files(today=run.expires_on) == 0
    assert reports.remove_expired_files(today=run.expires_on + dt.timedelta(days=1)) == 3
    assert as_owner.get(address).status_code == 404
    assert IssuedReport.objects.count() == 1


def test_the_students_of_a_term_may_be_those_of_some_classes(cast):
    assert cast.out_of_reach in students_of_term(cast.term)
    assert students_of_term(cast.term, [cast.class_group.pk]) == [cast.bettina, cast.ama]


def test_an_order_is_sorted_class_by_class_and_by_family_name(cast):
    names = [student.name for student in students_of_term(cast.term)]
    assert names == ["Zuzanna Hidden", "Bettina Krall", "Ama Owiredu", "Greta Holmby"]


def test_a_student_of_two_classes_has_one_report(cast):
    factories.EnrolmentFactory(student=cast.ama, class_group=cast.other_class, term=cast.term)
    assert [student.name for student in students_of_term(cast.term)].count("Ama Owiredu") == 1


def test_print_on_a_students_page_says_that_it_replaces_where_it_says_something_else(as_owner, cast, monkeypatch):
    pages = []
    monkeypatch.setattr(paper, "pdf", lambda page, **_how: pages.append(page) or b"%PDF")
    address = reverse("progress:student-record", args=[cast.ama.pk])
    result = measure(cast, cast.ama, cast.class_group)
    as_owner.get(address)
    issue(cast, cast.ama, on=TODAY - dt.timedelta(days=1))
    as_owner.get(address)
    correct_result(key=uuid.uuid4(), result=result, entry=Entry(value=Decimal(15)), by=cast.teacher)
    as_owner.get(address)
    assert ["replaces the one of 23 March 2026" in page for page in pages] == [False, False, True]
    assert IssuedReport.objects.count() == 1
