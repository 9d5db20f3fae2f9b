"""What finished terms teach: the error of simulated studios is found again, and the default holds without them."""

from datetime import date, timedelta

import numpy as np
import pytest

from progress.judging.engine.stories import COUNT, HOLD
from progress.judging.learned import FinishedTerm, Repeat, learned_error, learned_gain, pair_differences


def studio(error: float, *, lines: int, gain: float = 0.65, seed: int = 3) -> list[Repeat]:
    rng = np.random.default_rng(seed)
    return [
        Repeat(number, "L", "A", date(2031, 1, 7) + timedelta(weeks=week), level + gain * week + rng.normal(0, error))
        for number, level in enumerate(rng.normal(14, 4, lines))
        for week in range(10)
    ]


@pytest.mark.parametrize("error", [2.4, 3.2])
def test_the_error_of_a_studio_is_found_again(error):
    differences = pair_differences(studio(error, lines=150))
    assert len(differences) == 150 * 5
    assert learned_error(differences, default=2.4, rounding_variance=0.0) == pytest.approx(error, rel=0.06)


def test_an_error_far_below_the_default_is_not_believed():
    differences = pair_differences(studio(0.5, lines=100))
    assert learned_error(differences, default=2.4, rounding_variance=1 / 12) == pytest.approx(0.85 * 2.4)


def test_the_usual_gain_is_no_error():
    slow, fast = (pair_differences(studio(2.4, lines=60, gain=gain)) for gain in (0.0, 3.0))
    assert slow == pytest.approx(fast, abs=1e-9)


def test_beginners_who_wobble_as_beginners_do_leave_the_error_where_it_is():
    # At six rises a result wobbles by sqrt(2.0^2 + 0.48^2) = 2.06, which is a typical error of 2.4 at 17 rises.
    rng = np.random.default_rng(5)
    low = [
        Repeat(number, "L", "A", date(2031, 1, 7) + timedelta(weeks=week), 6.0 + rng.normal(0, np.hypot(2.0, 0.48)))
        for number in range(150)
        for week in range(10)
    ]
    told, untold = (pair_differences(low, scale=scale) for scale in (COUNT, None))
    assert learned_error(told, default=2.4, rounding_variance=0.0) == pytest.approx(2.4, rel=0.04)
    assert learned_error(untold, default=2.4, rounding_variance=0.0) < 2.2
    holds = studio(0.32, lines=5)
    assert pair_differences(holds, scale=HOLD) == pair_differences(holds)


def test_few_wild_pairs_move_the_error_little():
    differences = pair_differences(studio(2.4, lines=60))
    wild = [*differences[:-8], *[60.0] * 8]
    assert learned_error(wild, default=2.4, rounding_variance=0.0) < 2.9


def test_pairs_are_of_one_student_side_and_assessor_seven_to_twenty_one_days_apart():
    first = Repeat("Ida", "L", "A", date(2031, 1, 7), 12.0)

    def with_second(**other: object) -> int:
        second = Repeat(**(vars(first) | {"on": date(2031, 1, 14)} | other))
        return len(pair_differences([first, second]))

    assert with_second() == 1
    for other in ({"student": "Mei"}, {"side": "R"}, {"assessor": "B"}, {"protocol": 2}):
        assert with_second(**other) == 0
    assert [with_second(on=date(2031, 1, 7) + timedelta(days=days)) for days in (6, 7, 21, 22)] == [0, 1, 1, 0]


def test_no_result_is_used_in_two_pairs():
    rows = [Repeat("Ida", "L", "A", date(2031, 1, 7) + timedelta(weeks=week), 12.0) for week in range(5)]
    assert len(pair_differences(rows)) == 2


def test_a_gain_is_learned_from_terms_by_how_likely_they_gained():
    assert learned_gain([], default=0.65) == 0.65
    surely = learned_gain([FinishedTerm(1.0, 0.276)] * 200, default=0.65)
    assert surely == pytest.approx((20 * 0.65 + 200 * 0.3) / 220)
    assert learned_gain([FinishedTerm(0.0, 5.0)] * 50, default=0.65) == 0.65
