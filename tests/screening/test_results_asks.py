"""What the preview of past results asks and lets a person leave out: names typed otherwise, ticks, all and none."""
import re

import pytest
from django.urls import reverse

from screening.models import Result
from studio.models import KeptImport
from tests import factories
from tests.screening.test_results_import import AMA, BETTINA, FILE, HEADINGS, answer, bring, confirm, outcomes, table


def asked(preview):
    return preview.context["check"].names


def test_a_name_typed_otherwise_is_asked_once_for_all_its_rows(as_owner, cast):
    typed = [AMA.replace("Owiredu", "Owirede"), AMA.replace("Owiredu", "Owirede").replace("left", "right")]
    preview = bring(as_owner, cast, table(*typed, BETTINA))
    assert outcomes(preview) == ["ask", "ask", "add"]
    [name] = asked(preview)
    assert (name.rows, [key for key, _words in name.choices]) == (2, [str(cast.ama.pk)])
    assert "Somebody of a similar name was in this class." in preview.content.decode()
    confirm(as_owner, answer(as_owner, preview, **{f"who-{name.key}": cast.ama.pk}))
    assert Result.objects.filter(student=cast.ama).count() == 2


def test_who_is_nobody_here_is_left_out_and_kept_with_the_reason(as_owner, cast):
    preview = bring(as_owner, cast, table(AMA.replace("Owiredu", "Owirede"), BETTINA))
    [name] = asked(preview)
    again = answer(as_owner, preview, **{f"who-{name.key}": "leave"})
    assert outcomes(again) == ["leave", "add"]
    confirm(as_owner, again)
    assert not Result.objects.filter(student=cast.ama).exists()
    assert [row["why"] for row in KeptImport.objects.get().left_out] == ["Left out by hand."]


def test_two_of_one_name_are_asked_about(as_owner, cast):
    twin = factories.StudentFactory(name="Ama Owiredu", birth_on="2013-02-02")
    factories.EnrolmentFactory(student=twin, class_group=cast.class_group, term=cast.term)
    preview = bring(as_owner, cast, table(AMA))
    [name] = asked(preview)
    assert {key for key, _words in name.choices} == {str(cast.ama.pk), str(twin.pk)}
    confirm(as_owner, answer(as_owner, preview, **{f"who-{name.key}": twin.pk}))
    assert Result.objects.get().student == twin


def test_another_birth_date_is_asked_about(as_owner, cast):
    preview = bring(as_owner, cast, f"{HEADINGS},Born\n{AMA},2011-01-02\n")
    assert outcomes(preview) == ["ask"]
    assert "A student of this name has another birth date here." in preview.content.decode()


def test_somebody_of_another_class_is_asked_about_and_stays_in_their_own_class(as_owner, cast):
    preview = bring(as_owner, cast, table(AMA.replace("Ama Owiredu", "Zuzanna Hidden")))
    [name] = asked(preview)
    assert outcomes(preview) == ["ask"]
    confirm(as_owner, answer(as_owner, preview, **{f"who-{name.key}": name.choices[0][0]}))
    made = Result.objects.get()
    assert made.student.name == "Zuzanna Hidden"
    assert made.student.enrolments.filter(class_group=made.screening.class_group).exists()


@pytest.mark.parametrize("said", ["0", "999999", "x", "-1"])
def test_an_answer_that_was_not_offered_is_none(as_owner, cast, said):
    preview = bring(as_owner, cast, table(AMA.replace("Owiredu", "Owirede")))
    [name] = asked(preview)
    assert outcomes(answer(as_owner, preview, **{f"who-{name.key}": said})) == ["ask"]


def places(preview):
    return re.search(r'name="shown"\s+value="([0-9,]*)"', preview.content.decode())[1]


def test_a_row_without_its_tick_is_left_out(as_owner, cast):
    preview = bring(as_owner, cast, FILE)
    draft, check = preview.context["draft"], preview.context["check"]
    as_owner.post(reverse("progress:confirm-results", args=[draft.pk]), {
        "digest": check.digest, "shown": places(preview), "take": ["1"]})
    assert [row.student for row in Result.objects.all()] == [cast.bettina]
    assert [(row["row"], row["why"]) for row in KeptImport.objects.get().left_out] == [(2, "Left out by hand.")]


def test_none_takes_every_tick_away_and_all_gives_it_back(as_owner, cast):
    preview = bring(as_owner, cast, FILE)
    none = answer(as_owner, preview, every="leave", shown=places(preview))
    assert outcomes(none) == ["leave", "leave"]
    confirm(as_owner, none)
    assert not Result.objects.exists()
    assert outcomes(answer(as_owner, none, every="take", shown=places(none))) == ["add", "add"]


def test_of_two_rows_of_one_attempt_the_other_may_be_taken(as_owner, cast):
    preview = bring(as_owner, cast, table(AMA, AMA.replace(",14,", ",15,")))
    assert outcomes(preview) == ["add", "refuse"]
    other = answer(as_owner, preview, shown="0", take=[])
    assert outcomes(other) == ["leave", "add"]
    confirm(as_owner, other)
    assert Result.objects.get().value == 15


def test_a_long_preview_is_shown_page_by_page_and_keeps_the_ticks_of_each(as_owner, cast, monkeypatch):
    monkeypatch.setattr("progress.views.past_results.ROWS_A_PAGE", 1)
    preview = bring(as_owner, cast, FILE)
    assert places(preview) == "0" and "1 to 1 of 2" in preview.content.decode()
    second = answer(as_owner, preview, shown="0", take=[], page="2")
    assert places(second) == "1" and outcomes(second) == ["leave", "add"]


def test_rows_that_ask_are_shown_first(as_owner, cast):
    preview = bring(as_owner, cast, table(BETTINA, AMA.replace("Owiredu", "Owirede")))
    assert places(preview) == "1,0"


