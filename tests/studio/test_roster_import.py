"""A roster brought in by the pages: what is asked, what is previewed, what is written."""
import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from openpyxl import Workbook

from progress.actions import measuring
from progress.judging.line_record import read_line
from progress.models import Standing
from screening.actions import Entry
from studio.models import Enrolment, Guardian, ImportDraft, Student
from tests import factories

HEADINGS = "Name,Born,Stage,Foot,Guardian,E-mail"
NELE = "Nele Vance,2014-06-01,pre-pointe,left,Jo Vance,jo@example.org"
OREN = "Oren Pike,2013-11-20,foundation,right,,"
ROSTER = f"{HEADINGS}\n{NELE}\n{OREN}\n"


def text_of(*lines):
    return "\n".join(lines) + "\n"


def workbook(text):
    book = Workbook()
    for line in text.splitlines():
        book.active.append(line.split(","))
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def bring(client, cast, content, filename="roster.csv"):
    """Hands the file in and gives the page that answers: the preview, or the form with its error."""
    content = content.encode() if isinstance(content, str) else content
    data = {"file": SimpleUploadedFile(filename, content), "class_group": cast.class_group.pk, "term": cast.term.pk}
    return client.post(reverse("studio:bring-roster"), data, follow=True)


def answer(client, preview, **answers):
    """Says which order the dates have, or what the columns are, and gives the new preview."""
    path = reverse("studio:check-roster", args=[preview.context["draft"].pk])
    return client.post(path, {name.replace("_is", "-"): words for name, words in answers.items()}, follow=True)


def confirm(client, preview):
    draft, check = preview.context["draft"], preview.context["check"]
    return client.post(reverse("progress:confirm-roster", args=[draft.pk]), {"digest": check.digest}, follow=True)


def outcomes(preview):
    return [(row.number, row.name, row.outcome) for row in preview.context["check"].plan]


def reasons(preview, number):
    return " ".join(next(row.reasons for row in preview.context["check"].plan if row.number == number))


def everything():
    """What an import may touch, to be compared before and after."""
    students = Student.objects.order_by("pk").values_list(
        "pk", "name", "called", "birth_on", "stage__key", "training_since_year", "classes_per_week", "dominant_foot"
    )
    guardians = Guardian.objects.order_by("pk").values_list("pk", "name", "email", "phone", "students")
    enrolments = Enrolment.objects.order_by("pk").values_list("pk", "student", "class_group", "term", "left_on")
    return list(students), list(guardians), list(enrolments)


# --- every kind of file --------------------------------------------------------------------------


@pytest.mark.parametrize("content, filename", [
    (ROSTER.encode(), "comma.csv"),
    (ROSTER.replace(",", ";").encode(), "semicolon.csv"),
    (ROSTER.replace(",", "\t").encode(), "tab.txt"),
    (b"\xef\xbb\xbf" + ROSTER.encode(), "with-mark.csv"),
    (ROSTER.encode("utf-16"), "unicode.txt"),
    (workbook(ROSTER), "roster.xlsx"),
    (workbook(ROSTER), "wrongly-named.csv"),
    (text_of(*(",".join(reversed(line.split(","))) for line in ROSTER.splitlines())).encode(), "turned.csv"),
    (text_of("Our classes 2026", "", *ROSTER.splitlines(), ",,,,,", "").encode(), "with-title-and-blanks.csv"),
])
def test_the_same_two_students_come_out_of_every_kind_of_file(as_owner, cast, content, filename):
    preview = bring(as_owner, cast, content, filename)
    assert [(name, outcome) for _n, name, outcome in outcomes(preview)] == [("Nele Vance", "add"), ("Oren Pike", "add")]
    confirm(as_owner, preview)
    nele = Student.objects.get(name="Nele Vance")
    assert (str(nele.birth_on), nele.stage.key, nele.dominant_foot) == ("2014-06-01", "pre-pointe", "L")
    assert (nele.guardians.get().name, nele.guardians.get().email) == ("Jo Vance", "jo@example.org")
    assert Enrolment.objects.filter(student__name="Oren Pike", class_group=cast.class_group).count() == 1


def test_accents_of_an_old_spreadsheet_arrive_as_they_were(as_owner, cast):
    confirm(as_owner, bring(as_owner, cast, "Name;Born\nZoë Müßig;2014-06-01\n".encode("cp1252")))
    assert Student.objects.filter(name="Zoë Müßig").exists()


def test_a_line_break_inside_quotation_marks_is_not_a_new_row(as_owner, cast):
    preview = bring(as_owner, cast, 'Name,Guardian\n"Nele\nVance","Jo\r\nVance"\nOren Pike,\n')
    assert [(name, outcome) for _n, name, outcome in outcomes(preview)] == [("Nele Vance", "add"), ("Oren Pike", "add")]


# --- the order of day and month ------------------------------------------------------------------


EITHER_WAY = text_of("Name,Born", "Nele Vance,03/04/2014", "Oren Pike,05/06/2013", "Ida Holt,")


def test_dates_that_can_be_read_both_ways_are_asked_about_and_nothing_can_be_confirmed(as_owner, cast):
    before, preview = everything(), bring(as_owner, cast, EITHER_WAY)
    assert "Which comes first in the dates?" in preview.content.decode()
    assert "can be two dates" in reasons(preview, 2)
    assert [outcome for *_row, outcome in outcomes(preview)] == ["refuse", "refuse", "add"]
    assert "Bring in the ticked rows" not in preview.content.decode()
    confirm(as_owner, preview)
    assert everything() == before


@pytest.mark.parametrize("order, birth_on", [("day_first", "2014-04-03"), ("month_first", "2014-03-04")])
def test_the_answer_decides_how_the_dates_are_read(as_owner, cast, order, birth_on):
    preview = answer(as_owner, bring(as_owner, cast, EITHER_WAY), order=order)
    assert [outcome for *_row, outcome in outcomes(preview)] == ["add", "add", "add"]
    confirm(as_owner, preview)
    assert str(Student.objects.get(name="Nele Vance").birth_on) == birth_on


@pytest.mark.parametrize("other, birth_on", [("25/06/2013", "2014-04-03"), ("06/25/2013", "2014-03-04")])
def test_one_date_with_a_single_reading_decides_for_the_others(as_owner, cast, other, birth_on):
    preview = bring(as_owner, cast, text_of("Name,Born", "Nele Vance,03/04/2014", f"Oren Pike,{other}"))
    confirm(as_owner, preview)
    assert str(Student.objects.get(name="Nele Vance").birth_on) == birth_on


def test_a_file_with_both_orders_is_asked_about_and_what_does_not_fit_is_refused(as_owner, cast):
    mixed = text_of("Name,Born", "Nele Vance,25/06/2013", "Oren Pike,06/25/2013", "Ida Holt,03/04/2014")
    preview = bring(as_owner, cast, mixed)
    assert "Bring in the ticked rows" not in preview.content.decode()
    preview = answer(as_owner, preview, order="day_first")
    assert [outcome for *_row, outcome in outcomes(preview)] == ["add", "refuse", "add"]


# --- the preview ---------------------------------------------------------------------------------


def test_the_preview_says_row_by_row_what_and_why(as_owner, cast):
    preview = bring(as_owner, cast, text_of(
        "Name,Born,Stage,Class",
        "Ama Owiredu,2014-05-01,pre-pointe,",
        "Bettina Krall,2014-05-02,foundation,",
        "Nele Vance,2014-06-01,,",
        "Oren Pike,2014-06-01,en pointe soon,",
        "Ida Holt,2014-06-01,,Class that is not",
        ",2014-06-01,,",
    ))
    assert [outcome for *_row, outcome in outcomes(preview)] == ["same", "change", "add", "refuse", "refuse", "refuse"]
    words = " ".join(preview.content.decode().split())
    assert "1 new, 1 changed, 1 left alone, 3 refused." in words
    assert "is not a stage here" in words
    assert "No class is called “Class that is not”." in words
    assert "The name is missing." in words
    assert '<s class="soft">pre-pointe</s> foundation' in words


def test_confirming_leaves_refused_rows_out_and_writes_the_others(as_owner, cast):
    preview = bring(as_owner, cast, text_of("Name,Born", "Nele Vance,2014-06-01", "Oren Pike,1900-01-01"))
    assert "age of 126" in reasons(preview, 3)
    confirm(as_owner, preview)
    assert Student.objects.filter(name="Nele Vance").exists()
    assert not Student.objects.filter(name="Oren Pike").exists()


def test_columns_can_be_put_right_on_the_page(as_owner, cast):
    preview = bring(as_owner, cast, text_of("Who,When", "Nele Vance,2014-06-01"))
    assert "Choose the column for this field" in preview.content.decode()
    preview = answer(as_owner, preview, column_is0="name", column_is1="birth_on")
    assert outcomes(preview) == [(2, "Nele Vance", "add")]


def test_an_empty_cell_never_erases_what_is_known(as_owner, cast):
    confirm(as_owner, bring(as_owner, cast, text_of("Name,Born,Stage,Known as", "Ama Owiredu,2014-05-01,,Amie")))
    ama = Student.objects.get(name="Ama Owiredu")
    assert (ama.called, ama.stage.key) == ("Amie", "pre-pointe")


def test_an_empty_cell_is_no_change(as_owner, cast):
    preview = bring(as_owner, cast, text_of("Name,Born,Stage", "Ama Owiredu,2014-05-01,"))
    assert outcomes(preview) == [(2, "Ama Owiredu", "same")]
    assert "Bring in the ticked rows" not in preview.content.decode()


def test_a_phone_number_of_nobody_is_pointed_at_and_not_kept_silently(as_owner, cast):
    preview = bring(as_owner, cast, text_of("Name,Born,Guardian phone", "Nele Vance,2014-06-01,020 7946 0000"))
    assert "020 7946 0000 is not taken: the file names no guardian and no e-mail for it." in preview.content.decode()
    confirm(as_owner, preview)
    assert not Student.objects.get(name="Nele Vance").guardians.exists()


# --- two of one name -----------------------------------------------------------------------------


def test_two_new_students_of_one_name_are_told_apart_by_their_birth_dates(as_owner, cast):
    confirm(as_owner, bring(as_owner, cast, text_of("Name,Born", "Nele Vance,2014-06-01", "Nele Vance,2013-06-01")))
    assert Student.objects.filter(name="Nele Vance").count() == 2


def test_two_of_one_name_without_birth_dates_are_refused(as_owner, cast):
    preview = bring(as_owner, cast, text_of("Name,Born", "Nele Vance,", "Nele Vance,"))
    assert [outcome for *_row, outcome in outcomes(preview)] == ["refuse", "refuse"]
    assert "birth date is needed" in reasons(preview, 2)


def test_a_name_that_two_students_have_is_refused_without_a_birth_date(as_owner, cast):
    factories.StudentFactory(name="Ama Owiredu", birth_on=None)
    preview = bring(as_owner, cast, text_of("Name,Stage", "Ama Owiredu,foundation"))
    assert "Several students have this name" in reasons(preview, 2)


def test_two_rows_of_one_name_never_become_the_one_student_without_a_birth_date(as_owner, cast):
    """Whose of the two she is, only a person can say."""
    undated = factories.StudentFactory(name="Nele Vance", birth_on=None)
    preview = bring(as_owner, cast, text_of("Name,Born", "Nele Vance,2014-06-01", "Nele Vance,2013-06-01"))
    assert [outcome for *_row, outcome in outcomes(preview)] == ["refuse", "refuse"]
    assert "birth date" in reasons(preview, 2)
    confirm(as_owner, preview)
    undated.refresh_from_db()
    assert undated.birth_on is None


# --- writing -------------------------------------------------------------------------------------


def test_a_failure_in_the_middle_of_writing_leaves_nothing_written(as_owner, cast, monkeypatch):
    preview, before = bring(as_owner, cast, ROSTER), everything()
    real = Enrolment.objects.create

    def fails_for_the_second(**values):
        if values["student"].name == "Oren Pike":
            assert Student.objects.filter(name="Nele Vance").exists()
            raise RuntimeError("the disk is full")
        return real(**values)

    monkeypatch.setattr(Enrolment.objects, "create", fails_for_the_second)
    with pytest.raises(RuntimeError, match="the disk is full"):
        confirm(as_owner, preview)
    assert everything() == before
    assert ImportDraft.objects.count() == 1


def test_the_same_file_twice_changes_nothing(as_owner, cast):
    confirm(as_owner, bring(as_owner, cast, ROSTER))
    before = everything()
    preview = bring(as_owner, cast, ROSTER)
    assert [outcome for *_row, outcome in outcomes(preview)] == ["same", "same"]
    confirm(as_owner, preview)
    assert everything() == before


def test_a_student_added_meanwhile_brings_the_new_preview_and_writes_nothing(as_owner, cast):
    preview = bring(as_owner, cast, ROSTER)
    factories.StudentFactory(name="Nele Vance", birth_on="2014-06-01")
    before = everything()
    again = confirm(as_owner, preview)
    assert "The studio changed since this preview" in again.content.decode()
    assert [outcome for *_row, outcome in outcomes(again)] == ["change", "add"]
    assert everything() == before
    confirm(as_owner, again)
    assert Student.objects.filter(name="Nele Vance").count() == 1


def test_what_was_written_is_not_kept_as_a_draft(as_owner, cast):
    confirm(as_owner, bring(as_owner, cast, ROSTER))
    assert not ImportDraft.objects.exists()


def test_a_changed_stage_judges_with_its_own_targets(as_owner, cast):
    measuring.record_result(
        key="0" * 32, screening=cast.screening, student=cast.ama, measure=cast.rises, side="L",
        entry=Entry(value=14), by=cast.teacher,
    )
    targets = {target.stage.key: float(target.value) for target in cast.rises.targets.select_related("stage")}
    assert read_line(Standing.objects.get().line).target == targets["pre-pointe"]
    confirm(as_owner, bring(as_owner, cast, text_of("Name,Born,Stage", "Ama Owiredu,2014-05-01,on pointe")))
    assert read_line(Standing.objects.get().line).target == targets["on-pointe"] != targets["pre-pointe"]


def test_a_student_of_another_class_joins_this_one_and_stays_in_theirs_where_a_person_says_both(as_owner, cast):
    preview = bring(as_owner, cast, text_of("Name,Born", "Greta Holmby,2014-05-03"))
    assert [row.outcome for row in preview.context["check"].plan] == ["ask"]
    draft_id = preview.context["draft"].pk
    both = as_owner.post(reverse("studio:check-roster", args=[draft_id]), {"second_class": "both"}, follow=True)
    confirm(as_owner, both)
    enrolments = Enrolment.objects.filter(student=cast.other_student, left_on=None).select_related("class_group")
    assert sorted(each.class_group.name for each in enrolments) == ["Pre-pointe A", "Pre-pointe B"]


def test_a_second_click_on_write_this_is_told_that_it_was_written(as_owner, cast):
    preview = bring(as_owner, cast, b"Name;Born\nZoe Moss;2014-06-01\n")
    confirm(as_owner, preview)
    draft_id = ImportDraft.objects.order_by("-pk").values_list("pk", flat=True).first() or 1
    answer = as_owner.post(reverse("progress:confirm-roster", args=[draft_id + 1]), {"digest": "x"}, follow=True)
    assert "This preview is no longer there" in answer.content.decode()
    assert Student.objects.filter(name="Zoe Moss").count() == 1
