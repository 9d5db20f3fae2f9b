"""What the studio's own results teach: stored with its evidence, judged with, pinned over by the owner."""
import datetime as dt
from decimal import Decimal

import numpy as np
import pytest

from progress.actions.learning import learn_values
from progress.actions.standings import rebuild_standings
from progress.models import LearnedValue, Standing
from progress.queries.assessors import assessor_pairs
from progress.queries.judged import measure_facts
from screening.models import Protocol, Result
from tests import factories


def fill(cast, *, wobble, students=6, weeks=12, start=dt.date(2026, 1, 6)):
    """Weekly rises of `students` on one foot, gaining half a rise a week with this wobble."""
    rng = np.random.default_rng(3)
    protocol = Protocol.objects.get(measure=cast.rises)
    children = [factories.StudentFactory() for _ in range(students)]
    rows = []
    for week in range(weeks):
        screening = factories.ScreeningFactory(
            class_group=cast.class_group, term=cast.term, battery=cast.battery, held_on=start + dt.timedelta(weeks=week)
        )
        rows += [
            Result(screening=screening, student=child, measure=cast.rises, protocol=protocol, side="L",
                   value=Decimal(max(0, round(12 + 0.5 * week + rng.normal(0, wobble)))),
                   taken_on=screening.held_on, by=cast.teacher)
            for child in children
        ]
    Result.objects.bulk_create(rows)
    rebuild_standings()


def test_a_steady_studio_learns_a_smaller_error_and_is_judged_with_the_published_one(cast):
    fill(cast, wobble=1.0)
    learn_values(learned_on=dt.date(2026, 3, 24))
    row = LearnedValue.objects.get(measure=cast.rises, kind=LearnedValue.ERROR)
    assert row.value == pytest.approx(0.85 * 2.4)
    assert row.evidence == 36
    # What is learned may make the judge more careful, never bolder.
    assert measure_facts(cast.rises).typical_error == 2.4


def test_a_shaky_studio_learns_a_larger_error_and_is_judged_with_it(cast):
    fill(cast, wobble=4.5)
    before = Standing.objects.order_by("pk").first().line["pg"]
    learn_values(learned_on=dt.date(2026, 3, 24))
    assert measure_facts(cast.rises).typical_error > 2.6
    assert Standing.objects.order_by("pk").first().line["pg"] != before


def test_nothing_new_is_stored_when_nothing_moved(cast):
    fill(cast, wobble=4.5)
    learn_values(learned_on=dt.date(2026, 3, 24))
    assert learn_values(learned_on=dt.date(2026, 3, 25)) == []


def test_a_pinned_value_stands_over_the_learned_one(cast):
    fill(cast, wobble=4.5)
    learn_values(learned_on=dt.date(2026, 3, 24))
    cast.rises.pinned_error = 2.5
    cast.rises.save()
    assert measure_facts(cast.rises).typical_error == 2.5


def test_a_gain_is_learned_only_from_a_finished_term(cast):
    fill(cast, wobble=1.5)
    learn_values(learned_on=cast.term.ends_on)
    assert not LearnedValue.objects.filter(kind=LearnedValue.GAIN).exists()
    learn_values(learned_on=cast.term.ends_on + dt.timedelta(days=1))
    row = LearnedValue.objects.get(kind=LearnedValue.GAIN)
    assert row.evidence == 6
    assert 0.45 < row.value < 0.65


def test_two_people_on_one_child_make_a_pair_and_five_pairs_a_figure(cast):
    protocol = Protocol.objects.get(measure=cast.rises)
    for at in range(6):
        child = factories.StudentFactory()
        for attempt, (by, value) in enumerate(((cast.teacher, 10 + at), (cast.owner, 12 + at + at % 2)), start=1):
            factories.ResultFactory(
                screening=cast.screening, student=child, measure=cast.rises, protocol=protocol, value=value,
                attempt=attempt, by=by,
            )
    pair = assessor_pairs()[0]
    assert (pair.first, pair.second, pair.pairs) == ("Davit Meskhi", "Ottoline Brack", 6)
    assert pair.bias == "Ottoline Brack gives +2.5 rises"
    assert pair.figure.startswith("0.")


def test_the_assessors_page_shows_pairs_to_the_owner_only(cast, client):
    client.force_login(cast.teacher, backend="django.contrib.auth.backends.ModelBackend")
    assert client.get("/office/assessors/").status_code == 403
    client.force_login(cast.owner, backend="django.contrib.auth.backends.ModelBackend")
    assert "by two people" in client.get("/office/assessors/").content.decode()
