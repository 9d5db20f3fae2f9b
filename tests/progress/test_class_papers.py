"""Papers about classes: the same verdicts as the screen, counted as they stand; nobody who did not agree is counted.

Read back with poppler's pdftotext and pdfinfo, which know nothing of how the file was made.
"""
import datetime as dt
import re
import uuid

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from progress.actions.day import ClassDay, state_attendance
from progress.actions.follow_ups import close_follow_up, open_follow_up
from progress.actions.standings import rebuild_standings
from progress.models import FollowUp, Standing
from progress.queries.class_sheet import class_sheet
from progress.queries.look_first import shared_stalls
from progress.queries.papers.term_overview import term_overview
from screening.models import Battery, Protocol
from studio.models import Consent
from tests import factories
from tests.conftest import TODAY
from tests.family.conftest import agree
from tests.progress.read_back import cells, read
from tests.progress.test_measuring import record
from tests.progress.test_pain_reports import report


def measure(cast, child, group, measure, weeks: int = 10) -> None:
    for week in range(weeks):
        day = dt.date(2026, 1, 13) + dt.timedelta(weeks=week)
        held = factories.ScreeningFactory(class_group=group, term=cast.term, held_on=day)
        for side, value in (("L", 9 + week), ("R", 12)):
            factories.ResultFactory(
                screening=held, student=child, measure=measure, protocol=Protocol.objects.get(measure=measure),
                side=side, value=value, taken_on=day, by=cast.teacher,
            )


@pytest.fixture
def measured(cast):
    """Ama in two measures, Bettina in one of them, Greta of the other class in one for two days."""
    for child, group, strand, weeks in (
        (cast.ama, cast.class_group, cast.rises, 10), (cast.ama, cast.class_group, cast.balance, 10),
        (cast.bettina, cast.class_group, cast.rises, 10), (cast.other_student, cast.other_class, cast.rises, 2),
    ):
        measure(cast, child, group, strand, weeks)
    rebuild_standings()
    return cast


def overview(cast, today=TODAY):
    return {each.name: each for each in term_overview(cast.term, today=today, now=timezone.now()).classes}


def test_who_is_missing_is_named_with_what_she_lacks(measured):
    a_class = overview(measured)["Pre-pointe A"]
    assert (a_class.students, a_class.complete) == (2, 1)
    assert [name for name, _what in a_class.missing] == ["Bettina Krall"] and a_class.missing[0][1] == "balance"
    lonely = overview(measured)["Lonely class"]
    assert (lonely.students, lonely.complete, lonely.missing, lonely.strands) == (1, 0, (), ())


def test_the_counts_are_those_of_the_class_sheet(measured):
    sheet = class_sheet(measured.class_group, measured.term, today=TODAY, now=timezone.now())
    for at, strand in enumerate(sheet.strands, start=1):
        cells = [cell.verdict for row in sheet.rows for cell in row.cells if cell.strand == at and cell.verdict]
        counted = {s.measure: dict(s.counts) for s in overview(measured)["Pre-pointe A"].strands}
        if cells:
            told = {verdict: n for verdict, n in counted[str(strand.measure)].items() if n}
            assert told == {verdict: cells.count(verdict) for verdict in set(cells)}
    assert dict(overview(measured)["Pre-pointe B"].strands[0].counts)["too_early"] == 2


def test_of_a_long_battery_the_sheet_says_how_many_are_missing_not_which(cast):
    cast.screening.battery = Battery.objects.get(key="first-screening")
    cast.screening.save()
    for side in "LR":
        record(cast, 14, side=side)
    sheet = class_sheet(cast.class_group, cast.term, today=TODAY, now=timezone.now())
    assert [row.still for row in sheet.rows] == ["9 of 10", "all 10"]


def test_nobody_who_did_not_agree_is_counted_or_named(as_owner, measured, tmp_path):
    agree(measured, measured.bettina, Consent.MEASUREMENTS, is_given=False)
    a_class = overview(measured)["Pre-pointe A"]
    assert (a_class.students, a_class.withheld, a_class.missing) == (2, 1, ())
    assert sum(n for _verdict, n in a_class.strands[0].counts) == 2
    printed = as_owner.get(f"/office/terms/{measured.term.pk}/overview/").content
    assert "Bettina" not in read("pdftotext", printed, tmp_path)


def test_attendance_and_days_to_the_answer_are_counted(measured):
    for back, here in ((7, [measured.ama, measured.bettina]), (0, [measured.ama])):
        state_attendance(
            key=uuid.uuid4(), day=ClassDay(measured.class_group, measured.term, TODAY - dt.timedelta(days=back)),
            present=here, absent=[s for s in (measured.ama, measured.bettina) if s not in here], by=measured.teacher,
        )
    assert (overview(measured)["Pre-pointe A"].came, overview(measured)["Pre-pointe A"].asked_to_come) == (3, 4)
    FollowUp.objects.all().delete()
    opened = {"class_group": measured.class_group, "kind": FollowUp.SIDES_APART, "measure": measured.rises}
    for child, days in ((measured.ama, 4), (measured.bettina, 8)):
        row, _made = open_follow_up(student=child, side="", opened_on=TODAY - dt.timedelta(days=days), **opened)
        if days == 4:
            close_follow_up(follow_up=row, note="looked at", by=measured.teacher, closed_on=TODAY)
    told = term_overview(measured.term, today=TODAY, now=timezone.now()).follow_ups
    assert [(r.opened, r.closed, r.still_open, r.days, r.longest) for r in told] == [(2, 1, 1, 4, 4)]


@pytest.mark.parametrize("size, points", [("A4", "841.89 x 595.276"), ("Letter", "792 x 612")])
def test_the_sheet_lies_across_one_page_and_says_what_the_screen_says(as_teacher, measured, tmp_path, size, points):
    printed = as_teacher.get(f"/classes/{measured.class_group.pk}/print/?paper={size}").content
    told = read("pdfinfo", printed, tmp_path)
    assert "Pages:           1" in told and points in told and "Tagged:          yes" in told
    words = " ".join(read("pdftotext", printed, tmp_path).split())
    for row in class_sheet(measured.class_group, measured.term, today=TODAY, now=timezone.now()).rows:
        assert row.student.name in words
        for cell in row.cells:
            if cell.count:
                assert cell.count in words and cell.word in words


def test_the_overview_of_a_term_says_its_figures_in_words(as_owner, measured, tmp_path):
    printed = as_owner.get(f"/office/terms/{measured.term.pk}/overview/").content
    words = " ".join(read("pdftotext", printed, tmp_path).split())
    assert "1 of 2 measured in all 2 measures" in words and "Missing: Bettina Krall (balance)." in words
    assert re.search(r"2 gaining|2 at target|\d too soon to say", words) and "2 too early" in words


def test_an_empty_term_has_an_overview(as_owner, cast, tmp_path):
    printed = as_owner.get(f"/office/terms/{cast.term.pk}/overview/").content
    words = read("pdftotext", printed, tmp_path)
    assert "Nothing was measured in this term." in words and "No class was logged." in words


def test_more_classes_ask_no_more_of_the_database(measured):
    with CaptureQueriesContext(connection) as few:
        term_overview(measured.term, today=TODAY, now=timezone.now())
    for _n in range(4):
        group, child = factories.ClassGroupFactory(), factories.StudentFactory()
        factories.EnrolmentFactory(student=child, class_group=group, term=measured.term)
        measure(measured, child, group, measured.rises, 1)
    with CaptureQueriesContext(connection) as many:
        term_overview(measured.term, today=TODAY, now=timezone.now())
    assert len(many) == len(few) <= 12


def test_every_cell_of_the_class_sheet_is_heard_with_student_measure_and_foot(as_teacher, measured, tmp_path):
    printed = as_teacher.get(f"/classes/{measured.class_group.pk}/print/").content
    rows = [(words, headers) for words, headers in cells(printed, tmp_path) if headers[0] == "Ama Owiredu"]
    heard = [headers for _words, headers in rows]
    [ama] = [
        r
        for r in class_sheet(measured.class_group, measured.term, today=TODAY, now=timezone.now()).rows
        if r.student == measured.ama
    ]
    told = [f"{cell.word} {cell.count}".replace(" ", "") for cell in ama.cells if cell.count]
    assert told and [words.replace(" ", "") for words, _headers in rows if words.replace(" ", "") in told] == told
    strands = [(measured.rises, "rises"), (measured.balance, "s"), (measured.landing, "grade")]
    columns = [
        words for strand, unit in strands
        for words in (f"{strand} over the term", *(f"{strand} {foot} {unit}" for foot in ("Left", "Right")))
    ]
    assert [" ".join(headers[1:]) for headers in heard] == [*columns, "Next"]


def test_whom_to_look_at_first_is_named_with_a_link_and_a_reason(as_teacher, measured):
    """Pain before everything, then who is slipping, then who is stalled."""
    for child, verdict in ((measured.ama, "stalled"), (measured.bettina, "slipping")):
        Standing.objects.filter(student=child, measure=measured.rises, side="L").update(verdict=verdict)
    hurts = factories.StudentFactory(name="Zora Last")
    factories.EnrolmentFactory(student=hurts, class_group=measured.class_group, term=measured.term)
    report(measured, student=hurts)
    sheet = class_sheet(measured.class_group, measured.term, today=TODAY, now=timezone.now())
    assert [(each.student, each.is_pain) for each in sheet.first[:3]] == [
        (hurts, True), (measured.bettina, False), (measured.ama, False)
    ]
    page = " ".join(as_teacher.get(f"/classes/{measured.class_group.pk}/").content.decode().split())
    follow_up = FollowUp.objects.get(student=hurts, kind=FollowUp.STOP_SIGN)
    assert f'<a href="/follow-ups/{follow_up.pk}/">Zora</a> no rises for now' in page
    assert "left rises slipping" in page


def test_a_class_that_was_never_measured_lacks_everything_of_its_battery(cast):
    """No screening is open and none ever was."""
    child = factories.StudentFactory(name="Nele Vance")
    factories.EnrolmentFactory(student=child, class_group=cast.lonely_class, term=cast.term)
    rows = class_sheet(cast.lonely_class, cast.term, today=TODAY, now=timezone.now()).rows
    assert len(rows) == 2 and all(row.still for row in rows)


def test_a_stall_of_most_of_the_class_names_nobody_and_opens_nothing(cast):
    """Four of six standing still in one measure is a question to the programme; three are three children's own."""
    children = [cast.ama, cast.bettina, *(factories.StudentFactory(name=f"Child {n}") for n in range(4))]
    for child in children[2:]:
        factories.EnrolmentFactory(student=child, class_group=cast.class_group, term=cast.term)
    for child in children:
        measure(cast, child, cast.class_group, cast.rises, 6)
    rebuild_standings()
    for most, named in ((3, 3), (4, 0)):
        FollowUp.objects.all().delete()
        Standing.objects.update(verdict="gaining")
        stalled = Standing.objects.filter(student__in=children[:most], side="L")
        stalled.update(verdict="stalled")
        rows = list(Standing.objects.select_related("measure"))
        assert len(shared_stalls(rows)) == (0 if named else 1)
        sheet = class_sheet(cast.class_group, cast.term, today=TODAY, now=timezone.now())
        assert len([each for each in sheet.first if "stalled" in each.reason]) == named
