"""The family letter: what the family's page says and the teacher's own words on two pages at most, or why not.

Read back with poppler's pdftotext and pdfinfo, which know nothing of how the file was made.
"""
import datetime as dt
import uuid

import pytest
from django.utils import timezone, translation

from progress.actions import pain
from progress.actions.papers import reports
from progress.actions.papers.letters import write_letter_text
from progress.actions.standings import rebuild_standings
from progress.models import IssuedReport, LetterText
from progress.models.letters import LONGEST
from progress.papers import paper
from progress.queries.family import family_page
from progress.queries.papers.letter import family_letter, reason_for_no_letter
from progress.queries.papers.reports import is_still_agreed
from screening.models import Protocol
from studio.actions import Refused
from studio.family.queries import agreed_scopes
from studio.models import Consent
from tests import factories
from tests.conftest import TODAY
from tests.family.conftest import agree
from tests.family.test_family_words import FORBIDDEN
from tests.progress.read_back import read
from tests.progress.test_reports import AT_ONCE


@pytest.fixture(autouse=True)
def files_of_its_own(settings, tmp_path):
    settings.VAR_DIR = tmp_path


@pytest.fixture
def measured(cast):
    """Ama over eleven weeks: rises grow on the left foot and stand still on the right one, her balance grows."""
    for week in range(11):
        day = dt.date(2026, 1, 13) + dt.timedelta(weeks=week)
        held = factories.ScreeningFactory(class_group=cast.class_group, term=cast.term, held_on=day)
        for measure, left, right in ((cast.rises, 9 + week, 12), (cast.balance, 6 + week, 8 + week)):
            for side, value in (("L", left), ("R", right)):
                factories.ResultFactory(
                    screening=held, student=cast.ama, measure=measure, protocol=Protocol.objects.get(measure=measure),
                    side=side, value=value, taken_on=day, by=cast.teacher,
                )
    rebuild_standings()
    agree(cast, cast.ama)
    return cast


def words_of(client, cast, tmp_path, more: str = "") -> str:
    answer = client.get(f"/students/{cast.ama.pk}/letter/print/{more}")
    assert answer["Content-Type"] == "application/pdf", answer.content[:300]
    return " ".join(read("pdftotext", answer.content, tmp_path).split())


def why(student, term) -> str:
    return reason_for_no_letter(student, term, agreed=agreed_scopes(student, timezone.now()))


def write(client, cast, **fields):
    return client.post(f"/students/{cast.ama.pk}/letter/", fields)


@pytest.mark.parametrize("code", ["en-gb", "de"])
def test_it_says_what_the_page_of_the_family_says_and_no_verdict(as_teacher, measured, tmp_path, code):
    factories.GuardianFactory(language_code=code).students.add(measured.ama)
    with translation.override(code):
        words = family_page(measured.ama, measured.term, at=timezone.now(), today=TODAY).words
    told = words_of(as_teacher, measured, tmp_path)
    parts = (words.practised, words.stronger, words.next, words.help, words.stop)
    for sentence in (words.title, words.only_her, *words.steps, *(s for part in parts for s in part.sentences)):
        assert sentence in told
    for row in words.rows:
        assert f"{row.name} {words.about} {row.then} {row.unit}".strip() in told
    assert len(words.rows) == 4 and not FORBIDDEN.search(told.replace(words.only_her, ""))


def test_her_own_words_are_printed_with_her_name_and_every_version_stays(as_teacher, measured, tmp_path):
    assert write(as_teacher, measured, text="Ama listens with her feet.").status_code == 302
    first = LetterText.objects.get()
    write(as_teacher, measured, text="Ama listens with her feet.", after=first.pk)
    write(as_teacher, measured, text="Ama waits for the music.", after=first.pk)
    assert [row.text for row in LetterText.objects.all()] == ["Ama waits for the music.", "Ama listens with her feet."]
    told, page = words_of(as_teacher, measured, tmp_path), as_teacher.get(f"/students/{measured.ama.pk}/letter/")
    assert "From Davit Meskhi Ama waits for the music." in told and "listens" not in told
    assert "listens with her feet" in page.content.decode() and first.written_by == measured.teacher


def test_words_taken_out_leave_no_heading(as_teacher, measured, tmp_path):
    write(as_teacher, measured, text="Something.")
    write(as_teacher, measured, text="", after=LetterText.objects.get().pk)
    assert "Davit Meskhi Something" not in words_of(as_teacher, measured, tmp_path)


def test_who_wrote_meanwhile_is_not_overwritten_and_nothing_typed_is_lost(as_teacher, measured):
    with pytest.raises(Refused, match="Ottoline Brack wrote here meanwhile"):
        write_letter_text(student=measured.ama, term=measured.term, text="The owner’s.", after=None, by=measured.owner)
        write_letter_text(student=measured.ama, term=measured.term, text="Mine.", after=None, by=measured.teacher)
    answer = write(as_teacher, measured, text="Mine.")
    assert answer.status_code == 422 and ">\nMine.</textarea>" in answer.content.decode()
    assert f'name="after" value="{LetterText.objects.get().pk}"' in answer.content.decode()


@pytest.mark.parametrize("text, why", [
    ("x" * (LONGEST + 1), "At most 1500 letters"), ("Well done 🙂", "cannot be printed"), ("ყოჩაღ", "font on paper"),
])
def test_what_cannot_be_printed_is_said_at_the_box(as_teacher, measured, text, why):
    answer = write(as_teacher, measured, text=text)
    assert answer.status_code == 422 and why in answer.content.decode() and text in answer.content.decode()
    assert not LetterText.objects.exists()


@pytest.mark.parametrize("size", paper.SIZES)
def test_the_fullest_letter_has_two_pages(as_teacher, measured, tmp_path, size):
    factories.GuardianFactory(language_code="de").students.add(measured.ama)
    for number in range(2):
        pain.report_pain(
            key=uuid.UUID(int=number), student=measured.ama, class_group=measured.class_group, screening=None,
            measure=measured.rises, places=["L-achilles"], feels=["sharp"], intensity=6, stopped="exercise", note="",
            reported_on=TODAY, by=measured.teacher,
        )
    write_letter_text(
        student=measured.ama, term=measured.term, after=None, by=measured.teacher,
        text="\n".join(["Pirouettenvorbereitung mit langem Rücken gelingt ihr jetzt."] * 25)[:LONGEST],
    )
    answer = as_teacher.get(f"/students/{measured.ama.pk}/letter/print/?paper={size}")
    assert "Pages:           2" in read("pdfinfo", answer.content, tmp_path)


def test_without_consent_to_share_there_is_no_letter(
    as_teacher, measured, settings, django_capture_on_commit_callbacks
):
    settings.TASKS = AT_ONCE
    agree(measured, measured.ama, Consent.FAMILY, is_given=False)
    page = f"/students/{measured.ama.pk}/letter/"
    assert as_teacher.get(f"{page}print/").url == page
    assert "No consent to share." in as_teacher.get(page).content.decode()
    with django_capture_on_commit_callbacks(execute=True):
        run = order(measured)
    assert [sheet.reason for sheet in run.sheets.all()] == ["No consent to share."]
    assert not IssuedReport.objects.exists()


def order(cast):
    return reports.order_reports(
        term=cast.term, kind=IssuedReport.LETTER, size="A4", students=[cast.ama], asked_on=TODAY, by=cast.owner
    )


def test_a_run_of_letters_is_issued_in_the_familys_language_and_closed_when_consent_goes(
    measured, settings, django_capture_on_commit_callbacks, tmp_path
):
    settings.TASKS = AT_ONCE
    factories.GuardianFactory(language_code="de").students.add(measured.ama)
    with django_capture_on_commit_callbacks(execute=True):
        run = order(measured)
    issued = IssuedReport.objects.get()
    told = read("pdftotext", paper.pdf(issued.page), tmp_path)
    assert "Gedruckt am 24. März 2026" in told and "Für die Familie" in told
    assert is_still_agreed(run, now=timezone.now())
    agree(measured, measured.ama, Consent.FAMILY, is_given=False)
    assert not is_still_agreed(run, now=timezone.now())


def test_new_words_make_a_new_letter_that_names_the_old_one(measured):
    def issue(on):
        return reports.issue_report(
            student=measured.ama, term=measured.term, kind="letter", size="A4", issued_on=on, by=measured.owner
        )

    first = issue(TODAY)
    assert issue(TODAY + dt.timedelta(days=2)) == first
    write_letter_text(student=measured.ama, term=measured.term, text="New.", after=None, by=measured.teacher)
    second = issue(TODAY + dt.timedelta(days=3))
    assert second.replaces == first and "ersetzt" not in second.page and "replaces the one of 24 March" in second.page


def test_of_a_term_whose_judgement_was_never_kept_there_is_no_letter(measured):
    measured.ama.standings.update(as_of=measured.term.ends_on + dt.timedelta(days=1))
    assert "was not kept" in why(measured.ama, measured.term)
    assert why(measured.bettina, measured.term) == "No consent to share."


def test_pain_is_told_only_with_consent_and_never_in_the_words_of_the_staff(measured):
    pain.report_pain(
        key=uuid.UUID(int=7), student=measured.ama, class_group=measured.class_group, screening=None,
        measure=measured.rises, places=["L-achilles"], feels=["sharp"], intensity=6, stopped="exercise",
        note="she cried", reported_on=TODAY, by=measured.teacher,
    )
    def letter():
        return family_letter(measured.ama, measured.term, studio=measured.studio, today=TODAY, now=timezone.now())

    assert letter().page.words.hurt is not None and "cried" not in str(letter())
    agree(measured, measured.ama, Consent.PAIN, is_given=False)
    assert letter().page.words.hurt is None
