"""What a family is told of pain: who should look at it and by when, each day, what was done, what not at home."""
import dataclasses
import datetime as dt
import uuid

import pytest
from django.urls import reverse
from django.utils import timezone, translation

from progress.actions import pain
from progress.models import FollowUp, HomeTold
from progress.queries.family import family_page
from progress.rules.pain import FEELS, STOPPED
from progress.rules.resting import ALLOWANCES
from progress.words.family_pain import NO_PAIN, Hurt, Pain, not_at_home, pain_sentences
from studio.family.actions import record_consent
from studio.models import ClassMeeting, Consent
from tests.conftest import TODAY
from tests.family.conftest import agree
from tests.family.test_family_words import FORBIDDEN
from tests.family.test_withdrawn import readable

DAY = dt.timedelta(days=1)


def hurt(cast, on: dt.date = TODAY, **fields):
    report = {
        "key": uuid.uuid4(), "student": cast.ama, "class_group": cast.class_group, "screening": None,
        "measure": None, "places": ["L-heel"], "feels": ["sharp"], "intensity": 4, "stopped": "exercise", "since": "",
        "note": "", "reported_on": on, "by": cast.teacher,
    }
    return pain.report_pain(**(report | fields))


def words_for(cast, *, code: str = "en-gb", today: dt.date = TODAY):
    with translation.override(code):
        return family_page(cast.ama, cast.term, at=timezone.now(), today=today).words


@pytest.fixture
def agreed(cast):
    agree(cast, cast.ama)
    return cast


def test_a_sign_for_a_doctor_says_so_and_by_when(agreed):
    hurt(agreed, feels=["limps"], stopped="class")
    words = words_for(agreed)
    assert words.hurt.sentences[:3] == (
        "24 March: limps, left heel, 4 of 10. That was the end of class that day.",
        "Please have it looked at by a doctor today, and before the next class in any case.",
        "Please tell us what was found and what is allowed.",
    )
    assert words.steps[0] == "No dancing, no sport, no rises and no jumps at home until a doctor has seen it."
    assert not words.poses


@pytest.mark.parametrize(("later", "said"), [
    (0, "Please have it looked at by a doctor today"), (1, "If no doctor has seen it yet, please go today"),
])
def test_today_is_said_on_its_day_only(agreed, later, said):
    hurt(agreed, feels=["limps"])
    assert words_for(agreed, today=TODAY + later * DAY).hurt.sentences[1].startswith(said)


def test_what_a_health_professional_should_see_says_so_before_the_next_class_with_each_day(agreed):
    """Each report has its date, not only the last one."""
    for on in (TODAY - 8 * DAY, TODAY):
        hurt(agreed, on, feels=["dull"], stopped="nothing")
    told = " ".join(words_for(agreed).hurt.sentences)
    assert "16 March: dull ache, left heel, 4 of 10." in told and "24 March: dull ache" in told
    assert (
        "Please have it looked at by a doctor or another health professional, before the next class." in told
    )
    assert "We ask about it" not in told


def test_a_report_of_a_day_without_consent_is_told_with_the_others_once_it_is_given(cast):
    hurt(cast, feels=["dull"], stopped="nothing")
    record_consent(student=cast.ama, scopes=[Consent.PAIN], is_given=False, said_by="Family", way=Consent.FORM,
                   at=timezone.now(), by=cast.owner)
    assert words_for(cast).hurt is None
    agree(cast, cast.ama)
    assert words_for(cast).hurt.sentences[0].startswith("24 March:")


def test_a_mistaken_tap_is_not_told(agreed):
    row = hurt(agreed)
    pain.take_back_report(report=row, by=agreed.teacher, on=TODAY)
    assert words_for(agreed).hurt is None and words_for(agreed).poses


def test_what_was_done_who_was_told_and_the_studios_number_are_said(agreed):
    agreed.studio.phone = "01632 960117"
    agreed.studio.save()
    row = hurt(agreed)
    HomeTold.objects.create(report=row, who="Abena", way=HomeTold.PHONE, by=agreed.teacher)
    ClassMeeting.objects.get_or_create(class_group=agreed.class_group, weekday=TODAY.weekday(), starts_at="16:00")
    told = words_for(agreed).hurt.sentences
    assert "The exercise was stopped. Home was told on" in told[0]
    assert "The next class is on 31 March." in told and "You can reach the studio on 01632 960117." in told


@pytest.mark.parametrize("fields", [
    {"feels": ["dull"], "stopped": "nothing", "intensity": 1},
    {"feels": ["dull"], "stopped": "nothing", "places": ["R-knee"]},
    {"feels": ["dull"], "stopped": "nothing", "places": ["back"]},
])
def test_whatever_hurts_no_exercise_for_home_and_no_drawing_of_one_is_left(agreed, amas, fields):
    page = amas.client.get(reverse("progress:family-child", args=[agreed.ama.pk])).content.decode()
    assert "Slow rises" in page and page.count('class="body body-') == 2
    hurt(agreed, **fields)
    answer = amas.client.get(reverse("progress:family-child", args=[agreed.ama.pk])).content.decode()
    assert "Slow rises" not in answer and "brushing teeth" not in answer and 'class="body' not in answer
    assert "no rises and no standing on one foot" in answer


def test_without_consent_to_pain_notes_nothing_that_loads_is_offered_and_nothing_is_said(agreed):
    hurt(agreed, feels=["dull"], stopped="nothing")
    agree(agreed, agreed.ama, Consent.PAIN, is_given=False)
    words = words_for(agreed)
    assert words.hurt is None and not words.poses and len(words.steps) == 1


def test_pain_stands_before_anything_that_went_well(agreed, amas):
    hurt(agreed)
    page = readable(amas.client.get(reverse("progress:family-child", args=[agreed.ama.pk])))
    assert page.index("What hurt") < page.index("What Ama practised")


@pytest.mark.parametrize("code", ["en-gb", "de"])
def test_no_answer_of_the_table_brings_a_verdict_and_every_sentence_is_translated(code):
    hurts = tuple(Hurt(TODAY - at * DAY, feels, stopped, TODAY) for at, (_f, feels) in enumerate(FEELS)
                  for stopped, _words in STOPPED)
    from_english = set()
    for asked in ("watch", "stop", "doctor_today", "head"):
        for is_referred in (False, True):
            for allows in ALLOWANCES:
                pain_now = Pain(hurts, asked, is_referred, allows, allows != "all", "", TODAY, TODAY + DAY, "0163")
                said = (*pain_sentences(pain_now), *not_at_home(pain_now))
                assert not FORBIDDEN.search(" ".join(said))
                from_english |= set(said[len(hurts):])
    if code == "de":
        with translation.override("de"):
            voiced = {
                sentence for sentence in from_english
                if translation.gettext(sentence) == sentence and not any(sign in sentence for sign in ":0123456789")
            }
        assert voiced == set()


def test_a_less_urgent_word_never_stands_beside_a_more_urgent_one():
    for asked, said in (("doctor_today", "by a doctor today"), ("head", "by a doctor today")):
        urgent = dataclasses.replace(
            NO_PAIN, hurts=(Hurt(TODAY, "x"),), asks=asked, is_referred=True, allows="nothing", today=TODAY)
        told = " ".join(pain_sentences(urgent))
        assert said in told and "We ask about it" not in told and "another health professional" not in told


def test_every_open_matter_is_told_whatever_its_kind(agreed):
    assert set(FollowUp.ABOUT_PAIN) == {"stop_sign", "pain_lasts", "pain_watched"}
    hurt(agreed, places=["L-heel"], feels=["sharp"])
    hurt(agreed, places=["R-hip"], feels=["dull"], stopped="nothing", intensity=2)
    assert len([s for s in words_for(agreed).hurt.sentences if s.startswith("24 March:")]) == 2
