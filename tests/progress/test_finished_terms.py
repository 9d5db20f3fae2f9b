"""A term that is over says for ever what was judged on its last day, whatever runs now; ordered again, the same."""
import datetime as dt
import uuid
from decimal import Decimal

import pytest
from django.utils import timezone

from progress.actions import finished_terms
from progress.actions.catalogue import set_targets
from progress.actions.measuring import correct_result, save_particulars
from progress.actions.papers.report_pages import page_of, reason_to_leave_out
from progress.actions.papers.reports import issue_report
from progress.actions.standings import rebuild_standings, refresh_standings
from progress.models import FollowUp, IssuedReport, TermClassStanding, TermStanding
from progress.queries.papers.spreadsheets import class_lines
from progress.queries.papers.term_overview import term_overview
from progress.queries.student import student_view
from screening.actions import Entry, save_protocol
from screening.models import Protocol
from studio.models import ClassGroup, Stage
from tests import factories
from tests.conftest import TODAY
from tests.family.conftest import agree

ENDED = dt.date(2025, 12, 6)


def measure(cast, term, start, rows):
    """rows: (student, side, values), a value a week."""
    protocol = Protocol.objects.filter(measure=cast.rises).latest("version")
    for week in range(len(rows[0][2])):
        day = start + dt.timedelta(weeks=week)
        held = factories.ScreeningFactory(class_group=cast.class_group, term=term, held_on=day, battery=cast.battery)
        for child, side, values in rows:
            factories.ResultFactory(
                screening=held, student=child, measure=cast.rises, protocol=protocol, side=side, value=values[week],
                taken_on=day, by=cast.teacher,
            )
    refresh_standings(class_ids=[cast.class_group.pk])


@pytest.fixture
def autumn(cast, time_machine):
    """A term with a child who gains and one who stands still; it is the day after its last."""
    term = factories.TermFactory(name="Autumn term", starts_on=dt.date(2025, 9, 8), ends_on=ENDED)
    for child in (cast.ama, cast.bettina):
        factories.EnrolmentFactory(
            student=child, class_group=cast.class_group, term=term, joined_on=term.starts_on, left_on=None)
        agree(cast, child, at=dt.datetime(2025, 9, 1, tzinfo=dt.UTC))
    gains, stands = [8, 9, 11, 11, 13, 14, 14, 16, 17, 18], [12, 10, 12, 11, 12, 10, 12, 11, 11, 12]
    measure(cast, term, dt.date(2025, 9, 16), [
        (cast.ama, "L", gains), (cast.ama, "R", stands), (cast.bettina, "L", stands), (cast.bettina, "R", stands)])
    time_machine.move_to(dt.datetime.combine(ENDED + dt.timedelta(days=1), dt.time(12), dt.UTC))
    return term


def papers(cast, term) -> dict[str, str]:
    today = timezone.localdate()
    made = {f"{kind} {child}": page_of(kind, child, term).undated()
            for kind in (IssuedReport.RECORD, IssuedReport.LETTER) for child in (cast.ama, cast.bettina)}
    return made | {
        "overview": repr(term_overview(term, today=today, now=timezone.now())),
        "workbook": repr(class_lines(term, now=timezone.now())),
    }


def the_next_term_runs(cast, time_machine):
    time_machine.move_to(dt.datetime.combine(TODAY, dt.time(12), dt.UTC))
    measure(cast, cast.term, dt.date(2026, 1, 13), [
        (cast.ama, "L", [9, 8, 9, 8, 9]), (cast.ama, "R", [20, 22, 24, 25, 26]), (cast.bettina, "L", [5, 6, 6, 5, 6])])


def test_every_paper_of_a_finished_term_stays_the_same_whatever_runs_now(cast, autumn, time_machine):
    before = papers(cast, autumn)
    assert "gaining" in before["record Ama Owiredu"] and "Nothing was measured" not in before["record Ama Owiredu"]
    the_next_term_runs(cast, time_machine)
    cast.ama.stage = Stage.objects.get(key="on-pointe")
    save_particulars(student=cast.ama, by=cast.teacher)
    set_targets(
        wanted=[(cast.rises, stage, Decimal(9), "ours") for stage in Stage.objects.all()], set_on=TODAY, by=cast.owner)
    assert papers(cast, autumn) == before


def test_a_stage_or_a_target_changed_in_the_holidays_judges_no_finished_term_anew(cast, autumn):
    before = papers(cast, autumn)
    cast.ama.stage = Stage.objects.get(key="on-pointe")
    save_particulars(student=cast.ama, by=cast.teacher)
    set_targets(
        wanted=[(cast.rises, stage, Decimal(9), "ours") for stage in Stage.objects.all()],
        set_on=timezone.localdate(), by=cast.owner)
    assert papers(cast, autumn) == before


def test_the_same_reports_come_out_when_they_are_ordered_again_in_the_next_term(cast, autumn, time_machine):
    def order(kind):
        return issue_report(
            student=cast.ama, term=autumn, kind=kind, size="A4", issued_on=timezone.localdate(), by=cast.owner)

    first = [order(kind) for kind in (IssuedReport.RECORD, IssuedReport.LETTER)]
    the_next_term_runs(cast, time_machine)
    assert [reason_to_leave_out(kind, cast.ama, autumn) for kind in ("record", "letter")] == ["", ""]
    assert [order(kind) for kind in (IssuedReport.RECORD, IssuedReport.LETTER)] == first


def test_a_follow_up_of_the_next_term_stands_on_no_paper_of_the_one_before(cast, autumn, time_machine):
    FollowUp.objects.all().delete()
    the_next_term_runs(cast, time_machine)
    FollowUp.objects.create(
        student=cast.ama, kind=FollowUp.NOT_MEASURED, class_group=cast.class_group, opened_on=TODAY, due_on=TODAY)
    assert "Open" not in page_of(IssuedReport.RECORD, cast.ama, autumn).undated()


def test_a_follow_up_of_today_is_told_from_todays_lines_on_the_page_of_the_term_before(
    cast, autumn, time_machine, as_teacher
):
    """And what is counted from the next screening on is nothing about a term that is over."""
    FollowUp.objects.all().delete()
    the_next_term_runs(cast, time_machine)
    save_protocol(measure=cast.rises, changes={"short_name": "slow count"}, by=cast.owner)
    FollowUp.objects.create(
        student=cast.ama, kind=FollowUp.NO_GAIN, measure=cast.rises, side="L", class_group=cast.class_group,
        opened_on=TODAY, due_on=TODAY)

    def why(term):
        view = student_view(cast.ama, term, classes=ClassGroup.objects.all(), today=TODAY, now=timezone.now())
        return [row.why for row in view.follow_ups], view.strands[0].next_protocol

    assert why(autumn)[0] == why(cast.term)[0]
    assert why(autumn)[1] is None and why(cast.term)[1] is not None


def test_another_way_of_counting_in_the_next_term_is_not_named_on_the_record_of_the_one_before(
    cast, autumn, time_machine
):
    before = papers(cast, autumn)
    time_machine.move_to(dt.datetime.combine(TODAY, dt.time(12), dt.UTC))
    save_protocol(measure=cast.rises, changes={"short_name": "slow count"}, by=cast.owner)
    the_next_term_runs(cast, time_machine)
    record = page_of(IssuedReport.RECORD, cast.ama, autumn).undated()
    assert "counted since" not in record and record == before["record Ama Owiredu"]


def test_a_result_put_right_in_the_holidays_is_judged_with_the_term(cast, autumn):
    before = papers(cast, autumn)
    finished_terms.keep_every_finished_term(today=timezone.localdate())
    assert TermStanding.objects.filter(student=cast.ama, term=autumn).exists()
    last = cast.ama.results.filter(side="R", screening__term=autumn).latest("taken_on")
    correct_result(key=uuid.uuid4(), result=last, entry=Entry(value=Decimal(14)), by=cast.teacher)
    assert not TermStanding.objects.filter(student=cast.ama, term=autumn).exists()
    assert papers(cast, autumn)["record Ama Owiredu"] != before["record Ama Owiredu"]


def test_terms_that_ended_before_they_were_kept_are_judged_as_of_their_end(cast, autumn, time_machine):
    """A studio that moves up from a version that kept nothing."""
    before = papers(cast, autumn)
    the_next_term_runs(cast, time_machine)
    TermStanding.objects.all().delete()
    TermClassStanding.objects.all().delete()
    finished_terms.keep_every_finished_term(today=timezone.localdate())
    assert papers(cast, autumn) == before


def test_judging_everything_anew_leaves_finished_terms_as_they_were(cast, autumn, time_machine):
    the_next_term_runs(cast, time_machine)
    before = papers(cast, autumn)
    rebuild_standings()
    assert papers(cast, autumn) == before
