"""A list of a front desk as it comes: what meets who is there is taken, asked or said in its row, never dropped."""
import datetime as dt

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from studio.models import Guardian, KeptImport, Student
from studio.sheet_file import read_sheet
from tests import factories
from tests.studio.test_roster_import import bring, everything, outcomes, reasons, text_of


def send(client, preview, *, take=None, again=False, **answers):
    """Writes the preview with these ticks and answers (row_5="new"), or shows it once more with them."""
    draft, check = preview.context["draft"], preview.context["check"]
    ticked = [row.number for row in check.plan if row.has_tick and row.outcome != "leave"] if take is None else take
    data = {"digest": check.digest, "ticked": "1", "take": ticked}
    data |= {f"answer-{name.removeprefix('row_')}": said for name, said in answers.items()}
    room = "studio:check-roster" if again else "progress:confirm-roster"
    return client.post(reverse(room, args=[draft.pk]), data, follow=True)


def guardian(cast, name="Efua Owiredu", email="", phone=""):
    made = Guardian.objects.create(name=name, email=email, phone=phone)
    made.students.add(cast.ama)
    return made


def guardians_of(student):
    return sorted(student.guardians.values_list("name", "email", "phone"))


# --- a known child's guardians -------------------------------------------------------------------


@pytest.mark.parametrize("heading, cells, expected", [
    ("Guardian,E-mail,Phone", "Efua Owiredu,efua@x.org,020 7946 0000",
     [("Efua Owiredu", "efua@x.org", "020 7946 0000")]),
    ("E-mail,Phone", "efua@x.org,020 7946 0000", [("Efua Owiredu", "efua@x.org", "020 7946 0000")]),
    ("Mother,Father,Father's e-mail", "Efua Owiredu,Kofi Owiredu,kofi@x.org",
     [("Efua Owiredu", "", ""), ("Kofi Owiredu", "kofi@x.org", "")]),
    ("Guardian,E-mail", "Efua Owiredu,efua@x.org kofi@x.org", [("Efua Owiredu", "efua@x.org", ""),
                                                              ("kofi@x.org", "kofi@x.org", "")]),
    ("Guardian,Phone", "Kofi Owiredu,020 7946 0000", [("Efua Owiredu", "", ""), ("Kofi Owiredu", "", "020 7946 0000")]),
])
def test_a_second_list_brings_the_contact_details_of_children_who_are_in_already(
    as_owner, cast, heading, cells, expected
):
    guardian(cast)
    preview = bring(as_owner, cast, text_of(f"Name,Born,{heading}", f"Ama Owiredu,2014-05-01,{cells}"))
    assert outcomes(preview) == [(2, "Ama Owiredu", "change")]
    send(as_owner, preview)
    assert guardians_of(cast.ama) == sorted(expected)


def test_a_changed_address_shows_what_stood_there_and_is_taken_only_when_the_row_is_ticked(as_owner, cast):
    guardian(cast, email="old@x.org")
    row = "Ama Owiredu,2014-05-01,Efua Owiredu,new@x.org"
    preview = bring(as_owner, cast, text_of("Name,Born,Guardian,E-mail", row))
    assert '<s class="soft">old@x.org</s> new@x.org' in " ".join(preview.content.decode().split())
    send(as_owner, preview, take=[])
    assert guardians_of(cast.ama) == [("Efua Owiredu", "old@x.org", "")]
    send(as_owner, bring(as_owner, cast, text_of("Name,Guardian,E-mail", "Ama Owiredu,Efua Owiredu,new@x.org")))
    assert guardians_of(cast.ama) == [("Efua Owiredu", "new@x.org", "")]


@pytest.mark.parametrize("heading, cells, words", [
    ("Phone", "020 7946 0000", "020 7946 0000 is not taken: the file does not say whose it is."),
    ("E-mail", "ask at the desk", "is not an e-mail address and is not taken"),
    ("Guardian,E-mail", "Kofi Owiredu,efua@x.org", "has this guardian as Efua Owiredu. The name Kofi Owiredu"),
])
def test_what_of_a_known_childs_row_is_not_taken_is_said_in_the_row(as_owner, cast, heading, cells, words):
    guardian(cast, email="efua@x.org", phone="0171 111 1111")
    preview = bring(as_owner, cast, text_of(f"Name,Born,{heading}", f"Ama Owiredu,2014-05-01,{cells}"))
    assert words in preview.content.decode()


def test_no_child_is_refused_for_a_parents_cell(as_owner, cast):
    preview = bring(as_owner, cast, text_of("Name,Born,E-mail,Phone", "Nele Vance,2014-06-01,a@x; b@x,none yet"))
    assert outcomes(preview) == [(2, "Nele Vance", "add")]
    assert "“a@x;”" not in preview.content.decode() and "“a@x” is not an e-mail address" in preview.content.decode()


def test_siblings_of_one_list_share_the_guardian_who_has_the_same_name_and_address(as_owner, cast):
    send(as_owner, bring(as_owner, cast, text_of(
        "Name,Born,Guardian,E-mail,Phone", "Nele Vance,2014-06-01,Jo Vance,jo@x.org,",
        "Timo Vance,2012-06-01,Jo Vance,JO@x.org,020 7946 0000")))
    jo = Guardian.objects.get(name="Jo Vance")
    assert (jo.students.count(), jo.phone) == (2, "020 7946 0000")


# --- lines that are no students, and ticks -------------------------------------------------------


AS_PRINTED = text_of(
    "Our dancers", "Name,Born,Stage", "Pre-pointe A,,", "Nele Vance,2014-06-01,pre-pointe", "Oren Pike *,2013-11-20,",
    "* new this term,,", "Total: 9,,", "Name,Born,Stage",
)


def test_totals_remarks_and_bands_are_shown_as_left_out_with_the_reason(as_owner, cast):
    preview = bring(as_owner, cast, AS_PRINTED)
    assert outcomes(preview) == [
        (3, "Pre-pointe A", "leave"), (4, "Nele Vance", "add"), (5, "Oren Pike", "add"),
        (6, "* new this term", "leave"), (7, "Total: 9", "leave"), (8, "Name", "leave"),
    ]
    words = preview.content.decode()
    assert "A total, no student." in words and "A remark below the list, no student." in words
    assert "4 lines are left out." in words
    before = Student.objects.count()
    send(as_owner, preview)
    assert Student.objects.count() == before + 2


def test_every_row_can_be_left_out_and_every_line_that_was_left_out_can_be_taken(as_owner, cast):
    preview = bring(as_owner, cast, text_of("Name,Born,Stage", "Nele Vance,2014-06-01,", "Oren Pike,2013-11-20,",
                                            "Summer,2014-01-01,", "Count Total,,"))
    preview = bring(as_owner, cast, text_of("Name,Born,Stage", "Nele Vance,2014-06-01,pre-pointe",
                                            "Oren Pike,2013-11-20,foundation", "Monday,,"))
    assert [outcome for *_row, outcome in outcomes(preview)] == ["add", "add", "leave"]
    send(as_owner, preview, take=[3, 4])
    names = set(Student.objects.values_list("name", flat=True))
    assert {"Oren Pike", "Monday"} <= names and "Nele Vance" not in names
    kept = KeptImport.objects.get()
    assert [(row["row"], row["why"]) for row in kept.left_out] == [(2, "Left out by hand.")]


def test_a_cell_that_may_be_a_name_or_a_heading_is_asked_about(as_owner, cast):
    preview = bring(as_owner, cast, text_of("Name,Born,Stage", "Nele Vance,2014-06-01,pre-pointe", "Junior Company,,"))
    assert outcomes(preview)[1] == (3, "Junior Company", "ask")
    send(as_owner, preview)
    assert not Student.objects.filter(name="Junior Company").exists()
    assert "A student, or a heading above a group?" in KeptImport.objects.get().left_out[0]["why"]


# --- who is meant --------------------------------------------------------------------------------


@pytest.mark.parametrize("row, words", [
    ("Ama Owiredu,2014-05-03", "has another birth date here"),
    ("Ama Owiredu,2014-01-05", "day and month turned round"),
    ("Ama Owiredo,2014-05-01", "Somebody of a similar name is here already"),
    ("Owiredu Ama,2014-05-01", "Somebody of a similar name is here already"),
])
def test_who_could_be_somebody_who_is_there_is_asked_about_and_nothing_is_decided(as_owner, cast, row, words):
    before, preview = everything(), bring(as_owner, cast, text_of("Name,Born", row))
    assert [outcome for *_row, outcome in outcomes(preview)] == ["ask"]
    assert words in reasons(preview, 2)
    send(as_owner, preview)
    assert everything() == before


def test_the_same_child_with_a_corrected_birth_date_stays_one_child(as_owner, cast):
    preview = bring(as_owner, cast, text_of("Name,Born", "Ama Owiredu,2014-05-03"))
    words = preview.content.decode()
    assert "Ama Owiredu, born 1 May 2014, Pre-pointe A: correct it to 3 May 2014" in words
    preview = send(as_owner, preview, row_2=f"is-{cast.ama.pk}")
    assert "Your answers are in." in preview.content.decode()
    assert outcomes(preview) == [(2, "Ama Owiredu", "change")]
    send(as_owner, preview)
    cast.ama.refresh_from_db()
    assert cast.ama.birth_on == dt.date(2014, 5, 3) and Student.objects.filter(name="Ama Owiredu").count() == 1


def test_another_child_of_the_same_name_is_made_when_a_person_says_so(as_owner, cast):
    preview = bring(as_owner, cast, text_of("Name,Born", "Ama Owiredu,2014-05-03"))
    send(as_owner, send(as_owner, preview, again=True, row_2="new"))
    assert Student.objects.filter(name="Ama Owiredu").count() == 2


def test_which_of_two_namesakes_is_meant_is_asked_where_the_list_has_no_birth_date(as_owner, cast):
    other = factories.StudentFactory(name="Ama Owiredu", birth_on=dt.date(2015, 2, 3))
    preview = bring(as_owner, cast, text_of("Name,Known as", "Ama Owiredu,Amie"))
    assert outcomes(preview) == [(2, "Ama Owiredu", "ask")]
    send(as_owner, send(as_owner, preview, row_2=f"is-{other.pk}"))
    other.refresh_from_db()
    assert other.called == "Amie" and Student.objects.get(pk=cast.ama.pk).called == ""


def test_twins_of_a_new_list_are_asked_about_and_both_are_taken_when_they_are_two(as_owner, cast):
    preview = bring(as_owner, cast, text_of("Name,Born", "Mia Vance,2014-06-01", "Mila Vance,2014-06-01"))
    assert [outcome for *_row, outcome in outcomes(preview)] == ["add", "ask"]
    preview = send(as_owner, preview, row_3="new")
    send(as_owner, preview)
    assert Student.objects.filter(name__endswith="Vance").count() == 2


# --- what becomes of a file is kept --------------------------------------------------------------


def test_a_file_is_kept_with_who_when_the_counts_and_the_rows_not_taken(as_owner, cast):
    answer = send(as_owner, bring(as_owner, cast, text_of(
        "Name,Born,Shoe", "Nele Vance,2014-06-01,33", "Oren Pike,1900-01-01,34", "Total: 2,,"), filename="autumn.csv"))
    assert "2 rows were not taken." in answer.content.decode()
    kept = KeptImport.objects.get()
    assert (kept.filename, kept.by, kept.class_group, kept.term) == (
        "autumn.csv", cast.owner, cast.class_group, cast.term)
    assert (kept.row_count, kept.taken, kept.not_taken, len(kept.left_out)) == (3, 1, 2, 2)
    words = as_owner.get(reverse("studio:kept-imports")).content.decode()
    assert "autumn.csv" in words and "2 rows, as a file" in words


def test_the_rows_not_taken_come_as_a_file_in_the_same_columns_that_can_be_mended_and_brought_again(as_owner, cast):
    send(as_owner, bring(as_owner, cast, text_of(
        "Name,Born,Phone", "Nele Vance,2014-06-01,", "Oren Pike,1900-01-01,+44 20 7946 0000", "=1+1,2014-01-02,")))
    answer = as_owner.get(reverse("studio:rows-not-taken", args=[KeptImport.objects.get().pk]))
    sheet = read_sheet(answer.content, "again.xlsx")
    assert sheet.headings == ("Name", "Born", "Phone", "row", "not taken because")
    assert sheet.rows[0].cells[:4] == ("Oren Pike", "1900-01-01", "+44 20 7946 0000", "3")
    assert "age of 126" in sheet.rows[0].cells[4]
    again = as_owner.post(reverse("studio:bring-roster"), {
        "file": SimpleUploadedFile("again.xlsx", answer.content), "class_group": cast.class_group.pk,
        "term": cast.term.pk}, follow=True)
    assert [(name, outcome) for _n, name, outcome in outcomes(again)][0] == ("Oren Pike", "refuse")


def test_rows_not_taken_are_thrown_away_after_a_year_and_the_counts_stay(as_owner, cast, time_machine):
    send(as_owner, bring(as_owner, cast, text_of("Name,Born", "Nele Vance,2014-06-01", "Oren Pike,1900-01-01")))
    time_machine.move_to(dt.datetime(2027, 4, 1, 12, tzinfo=dt.UTC))
    as_owner.force_login(cast.owner, backend="django.contrib.auth.backends.ModelBackend")
    send(as_owner, bring(as_owner, cast, text_of("Name,Born", "Ida Holt,2014-06-02")))
    old = KeptImport.objects.last()
    assert (old.left_out, old.headings, old.not_taken) == ([], [], 1)
    assert "no longer kept" in as_owner.get(reverse("studio:kept-imports")).content.decode()
