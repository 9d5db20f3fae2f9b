"""September: the new year's list of a whole studio. Who moves, stays, leaves or would stand in two classes is said."""
import datetime as dt

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from progress.queries.papers.reports import students_of_term
from studio.actions import carry_over
from studio.models import ClassGroup, Enrolment, KeptImport, Student
from tests import factories
from tests.conftest import TODAY


@pytest.fixture
def autumn(cast):
    """The term after this one, into which the classes were carried over."""
    term = factories.TermFactory(name="Autumn", starts_on=TODAY + dt.timedelta(days=60))
    carry_over(term=term, before=cast.term, by=cast.owner)
    return term


LIST = (
    "Name,Birth date,Class\n"
    "Ama Owiredu,2014-05-01,Pre-pointe B\nGreta Holmby,2014-05-03,Pre-pointe B\nNele Vance,2015-01-02,Pre-pointe A\n"
)


def bring(client, cast, term, content=LIST):
    data = {"file": SimpleUploadedFile("year.csv", content.encode()), "class_group": cast.class_group.pk,
            "term": term.pk}
    return client.post(reverse("studio:bring-roster"), data, follow=True)


def answer(client, preview, **answers):
    return client.post(reverse("studio:check-roster", args=[preview.context["draft"].pk]), answers, follow=True)


def confirm(client, preview):
    draft, check = preview.context["draft"], preview.context["check"]
    return client.post(reverse("progress:confirm-roster", args=[draft.pk]), {"digest": check.digest}, follow=True)


def outcomes(preview):
    return {row.name: row.outcome for row in preview.context["check"].plan}


def classes(term):
    rows = Enrolment.objects.filter(term=term, left_on=None).order_by("student__name", "class_group__name")
    return list(rows.values_list("student__name", "class_group__name"))


BEFORE = [("Ama Owiredu", "Pre-pointe A"), ("Bettina Krall", "Pre-pointe A"), ("Greta Holmby", "Pre-pointe B"),
          ("Zuzanna Hidden", "Lonely class")]


def test_who_would_stand_in_two_classes_is_asked(as_owner, cast, autumn):
    preview = bring(as_owner, cast, autumn)
    assert outcomes(preview) == {"Ama Owiredu": "ask", "Greta Holmby": "same", "Nele Vance": "add"}
    assert "In Pre-pointe A this term. Move to Pre-pointe B, or stand in both?" in preview.content.decode()
    confirm(as_owner, preview)
    assert ("Ama Owiredu", "Pre-pointe B") not in classes(autumn)


def test_one_answer_moves_everybody_and_the_preview_counts_them(as_owner, cast, autumn):
    preview = answer(as_owner, bring(as_owner, cast, autumn), second_class="move")
    words = preview.content.decode()
    assert outcomes(preview)["Ama Owiredu"] == "change"
    assert "1 move, 1 stay in their class, 0 leave." in words and "<s class=\"soft\">Pre-pointe A</s>" in words
    confirm(as_owner, preview)
    assert classes(autumn) == [
        ("Ama Owiredu", "Pre-pointe B"), ("Bettina Krall", "Pre-pointe A"), ("Greta Holmby", "Pre-pointe B"),
        ("Nele Vance", "Pre-pointe A"), ("Zuzanna Hidden", "Lonely class"),
    ]


def test_both_classes_are_kept_where_that_is_meant(as_owner, cast, autumn):
    confirm(as_owner, answer(as_owner, bring(as_owner, cast, autumn), second_class="both"))
    assert classes(autumn)[:2] == [("Ama Owiredu", "Pre-pointe A"), ("Ama Owiredu", "Pre-pointe B")]


def test_one_row_may_be_answered_by_itself(as_owner, cast, autumn):
    preview = answer(as_owner, bring(as_owner, cast, autumn), ticked="1", take=["2", "3", "4"], **{"answer-2": "move"})
    assert outcomes(preview)["Ama Owiredu"] == "change"
    confirm(as_owner, preview)
    assert classes(autumn)[0] == ("Ama Owiredu", "Pre-pointe B")


def test_whose_name_is_typed_otherwise_is_asked_about_name_and_class(as_owner, cast, autumn):
    preview = bring(as_owner, cast, autumn, LIST.replace("Owiredu", "Owirede"))
    who = f"is-{cast.ama.pk}"
    preview = answer(as_owner, preview, ticked="1", take=["2", "3", "4"], **{"answer-2": who})
    assert "stand in both?" in preview.content.decode()
    preview = answer(as_owner, preview, ticked="1", take=["2", "3", "4"], **{"answer-2": f"{who},move"})
    confirm(as_owner, preview)
    assert classes(autumn)[0] == ("Ama Owiredu", "Pre-pointe B")


def test_who_is_in_no_row_is_named_stays_and_leaves_only_where_that_is_said(as_owner, cast, autumn):
    """Bettina is not in the list; Zuzanna's class is none of the list's."""
    preview = answer(as_owner, bring(as_owner, cast, autumn), second_class="move")
    assert [each.name for each in preview.context["check"].absent] == ["Bettina Krall"]
    assert "1 student of these classes is not in the list" in preview.content.decode()
    stay, leave = preview, answer(as_owner, preview, absent="leave")
    assert "1 leave." in leave.content.decode()
    assert stay.context["check"].digest != leave.context["check"].digest
    confirm(as_owner, leave)
    assert "Bettina Krall" not in dict(classes(autumn))
    assert "Bettina Krall" not in [each.name for each in students_of_term(autumn)]
    assert Enrolment.objects.get(student=cast.bettina, term=cast.term).left_on is None


def test_moving_up_is_taken_back_as_one_step(as_owner, cast, autumn):
    preview = answer(as_owner, bring(as_owner, cast, autumn), second_class="move", absent="leave")
    confirm(as_owner, preview)
    page = as_owner.get(reverse("studio:kept-imports"))
    kept = page.context["rows"][0]
    as_owner.post(reverse("progress:take-import-back", args=[kept.pk]))
    assert classes(autumn) == sorted(BEFORE)
    assert not Student.objects.filter(name="Nele Vance").exists()


def test_within_a_running_term_the_old_class_ends_today(as_owner, cast):
    preview = answer(as_owner, bring(as_owner, cast, cast.term), second_class="move")
    confirm(as_owner, preview)
    before, now = Enrolment.objects.filter(student=cast.ama, term=cast.term).order_by("pk")
    assert (before.left_on, now.joined_on) == (TODAY, TODAY)


def test_the_next_terms_class_is_seen_before_its_first_day(as_owner, cast, autumn):
    page = as_owner.get(reverse("studio:class-roster", args=[cast.class_group.pk]))
    assert "The class of Autumn, from" in page.content.decode()
    confirm(as_owner, answer(as_owner, bring(as_owner, cast, autumn), second_class="move"))
    there = as_owner.get(reverse("studio:class-roster", args=[cast.other_class.pk]), {"term": autumn.pk})
    assert [each.student.name for each in there.context["enrolments"]] == ["Ama Owiredu", "Greta Holmby"]
    words = there.content.decode()
    assert "2 students, Autumn" in words and ">Leave<" not in words and "The class of this term" in words
    now = as_owner.get(reverse("studio:class-roster", args=[cast.other_class.pk]))
    assert [each.student.name for each in now.context["enrolments"]] == ["Greta Holmby"]


def test_a_moved_students_story_knows_no_class_of_no_day(as_owner, cast, autumn):
    confirm(as_owner, answer(as_owner, bring(as_owner, cast, autumn), second_class="move"))
    words = as_owner.get(reverse("progress:story", args=[cast.ama.pk])).content.decode()
    assert "Left Pre-pointe A" not in words


def test_classes_that_the_list_names_are_made_when_a_person_says_so_and_go_when_it_is_taken_back(as_owner, cast):
    content = LIST.replace("Vance,2015-01-02,Pre-pointe A", "Vance,2015-01-02,Grade 9")
    preview = bring(as_owner, cast, cast.term, content)
    assert "The list names a class that is not here: Grade 9." in preview.content.decode()
    assert outcomes(preview)["Nele Vance"] == "refuse"
    preview = answer(as_owner, preview, asks_classes="1", makes_classes="on")
    assert outcomes(preview)["Nele Vance"] == "add"
    confirm(as_owner, preview)
    made = ClassGroup.objects.get(name="Grade 9")
    assert [each.student.name for each in made.enrolments.all()] == ["Nele Vance"]
    as_owner.post(reverse("progress:take-import-back", args=[KeptImport.objects.get().pk]))
    assert not ClassGroup.objects.filter(name="Grade 9").exists()


def test_who_stands_in_a_row_that_is_refused_is_in_the_list_all_the_same(as_owner, cast, autumn):
    content = LIST + "Bettina Krall,2014-05-02,Grade 9\n"
    preview = bring(as_owner, cast, autumn, content)
    assert outcomes(preview)["Bettina Krall"] == "refuse"
    assert not preview.context["check"].absent
