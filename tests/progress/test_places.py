"""Where it hurts, on screen and paper: drawn feet with the days of each place, and a record that judges no rest."""
from django.urls import reverse
from django.utils import timezone

from progress.actions.pain import take_back_report
from progress.actions.standings import rebuild_standings
from progress.models import FollowUp
from progress.queries.papers.term_report import student_record
from progress.queries.places import places_told
from studio.models import ClassGroup
from tests.conftest import TODAY
from tests.progress.test_measuring import past_results
from tests.progress.test_pain_reports import report


def test_each_place_is_told_once_with_its_days_and_what_is_not_on_a_foot_in_words_alone(cast):
    report(cast, places=("L-achilles",), days_ago=7)
    report(cast, places=("L-achilles", "L-knee"))
    told = places_told(cast.ama.pain_reports.all())
    assert told.on_feet == ("L-achilles",)
    assert told.days == (("Left Achilles", "17 March and 24 March"), ("Left knee", "24 March"))


def test_a_tap_by_mistake_draws_nothing(cast):
    mistaken = report(cast, places=("R-heel",))
    take_back_report(report=mistaken, by=cast.teacher, on=mistaken.reported_on)
    assert places_told(cast.ama.pain_reports.all()) is None


def test_the_plate_stands_on_the_students_page_for_this_terms_places_and_on_the_follow_up(as_owner, cast):
    page = reverse("progress:student", args=[cast.ama.pk])
    assert "places-told" not in as_owner.get(page).content.decode()
    report(cast, places=("R-heel",), days_ago=(TODAY - cast.term.starts_on).days + 30)
    assert "places-told" not in as_owner.get(page).content.decode()
    report(cast, places=("L-heel",))
    followed = reverse("progress:follow-up", args=[FollowUp.objects.latest("pk").pk])
    for address in (page, followed):
        shown = as_owner.get(address).content.decode()
        assert 'value="L-heel" checked' in " ".join(shown.split())
        assert "<strong>Left heel</strong> 24 March" in shown


def test_a_record_neither_praises_nor_judges_what_the_student_rests_from(cast):
    past_results(cast, [8, 9, 10, 11, 12, 13])
    rebuild_standings()
    about = {"studio": cast.studio, "classes": ClassGroup.objects.all(), "now": timezone.now()}
    [row] = student_record(cast.ama, cast.term, **about).rows
    assert (row.verdict, row.verdict_word) == ("gaining", "gaining") and row.rate
    report(cast)
    [resting] = student_record(cast.ama, cast.term, **about | {"now": timezone.now()}).rows
    assert (resting.verdict, resting.verdict_word, resting.rate) == ("", "resting", "")
    assert (resting.now, resting.likely) == (row.now, row.likely)
