"""The way in to the barre: each class's one big next step says what is next and how many have it before them."""
import datetime as dt
import re

import pytest
from django.urls import reverse

from studio.models import ClassMeeting
from tests import factories
from tests.progress.test_measuring import record
from tests.progress.test_today import ask_for, closed  # noqa: F401


@pytest.fixture
def hub(as_teacher, cast):
    ClassMeeting.objects.create(class_group=cast.class_group, weekday=1, starts_at=dt.time(16, 30))

    def read() -> tuple[str, str, list[str]]:
        """The words of the big step, its address, and the words of the small ways."""
        page = as_teacher.get(reverse("progress:barre")).content.decode()
        links = re.findall(r'<a class="button ([^"]*)"[^>]* href="([^"]*)">(.*?)</a>', page, re.DOTALL)
        told = [(kind, where, " ".join(re.sub("<[^>]*>", " ", words).split())) for kind, where, words in links]
        [(_kind, where, words)] = [each for each in told if each[0] == "hub-go"]
        return words, where, [each[2] for each in told if each[0] != "hub-go"]

    return read


def test_the_next_step_is_the_first_measure_and_the_first_group_with_anybody_to_go(cast, hub):
    cast.class_group.group_size = 1
    cast.class_group.save()
    run = reverse("progress:run", args=[cast.screening.pk, "rises"])
    assert hub()[:2] == ("Start: rises, group 1 2 to go", run)
    record(cast, 14)
    assert hub()[:2] == ("Go on: rises, group 1 2 to go", run)
    record(cast, 15, side="R")
    assert hub()[:2] == ("Go on: rises, group 2 1 to go", run)
    for side in "LR":
        record(cast, 15, side=side, student=cast.bettina)
    balance = reverse("progress:run", args=[cast.screening.pk, cast.balance.key])
    assert hub()[:2] == ("Start: balance, group 1 2 to go", balance)


def test_one_group_is_not_numbered_and_the_other_measures_say_how_many_are_left(cast, hub):
    words, _where, ways = hub()
    assert words == "Start: rises 2 to go"
    assert ways[:2] == ["Passé balance 2 to go", "Landing control 2 to go"]
    assert {"By hand no clock", "Who is missing and close", "Log the class", "It hurts"} <= set(ways)


def test_a_day_on_which_everyone_is_seen_is_offered_to_be_closed(cast, hub):
    for student in (cast.ama, cast.bettina):
        for measure in (cast.rises, cast.balance, cast.landing):
            for side in "LR":
                record(cast, 2, measure=measure, side=side, student=student)
    words, where, ways = hub()
    assert words == "Nobody left to measure. Close the screening?"
    assert where == reverse("progress:screening", args=[cast.screening.pk])
    done = "nobody left to measure"
    assert ways[:3] == [f"Rises, one foot {done}", f"Passé balance {done}", f"Landing control {done}"]


def test_an_older_screening_that_is_left_open_is_gone_on_with_when_the_newest_is_done(cast, hub):
    newer = factories.ScreeningFactory(
        class_group=cast.class_group, term=cast.term, battery=None, held_on=cast.screening.held_on,
        opened_by=cast.teacher,
    )
    words, where, _ways = hub()
    assert (words, where) == ("Start: rises 2 to go", reverse("progress:run", args=[cast.screening.pk, "rises"]))
    assert newer.pk > cast.screening.pk


def test_without_an_open_screening_whom_to_measure_again_stands_beside_the_step_and_no_verdict(
    cast, hub, closed,  # noqa: F811
):
    ask_for(cast, cast.ama)
    words, where, ways = hub()
    assert (words, where) == ("Rises once more Ama", reverse("progress:open-screening", args=[cast.class_group.pk]))
    assert ways == ["Log the class", "It hurts"]


def test_a_class_with_nobody_to_measure_logs_its_class(cast, hub, closed):  # noqa: F811
    ask_for(cast)
    words, where, ways = hub()
    assert (words, where) == ("Log the class", reverse("progress:class-log", args=[cast.class_group.pk]))
    assert ways == ["Open a screening", "It hurts"]
