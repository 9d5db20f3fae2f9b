"""The triage as a table: every combination of feel, place, effect, time and number, each line with its source."""
import itertools

import pytest

from progress.rules import pain

# One of each kind of place.
PLACES = {
    "ankle bone": ("L-ankle-outer",), "elsewhere on a foot": ("R-achilles",), "off the feet": ("back",), "in words": (),
    "same on both sides": ("L-heel", "R-heel"), "both sides, not the same": ("L-heel", "R-calf"),
}
FEELS = [key for key, _words in pain.FEELS]
EFFECTS = ["", *(key for key, _words in pain.STOPPED)]
TIMES = ["", *(key for key, _words in pain.SINCE)]
NUMBERS = [None, *range(11)]
ANY = None
MILD, MODERATE, SEVERE = {None, 0, 1, 2, 3}, {4, 5, 6, 7}, {8, 9, 10}

# (feel, kinds of place, effects, durations, numbers, what is asked, source); the first line that fits stands.
TABLE = [
    ({"limps"}, ANY, ANY, ANY, ANY, "doctor_today",
     "Ottawa ankle rules criteria: cannot take weight or limps for four steps; same-day assessment"),
    ({"swollen"}, ANY, ANY, ANY, ANY, "doctor_today",
     "regional health-service guidance: swollen, red or hot joint, a doctor or nurse today"),
    ({"numb"}, ANY, ANY, ANY, ANY, "doctor_today",
     "from memory: numbness, pins and needles; within 24 to 48 h. Today is the studio's rule"),
    ({"sharp"}, {"ankle bone"}, {"exercise", "class"}, ANY, ANY, "doctor_today",
     "studio's rule, after the places of the Ottawa ankle rules"),
    ({"sharp"}, ANY, ANY, ANY, ANY, "stop", "secondary summary: localised and sharper means stop"),
    (ANY, ANY, ANY, ANY, SEVERE, "stop", "studio's rule, at the severe band of a faces scale (Tsze et al. 2018)"),
    (ANY, ANY, {"class"}, ANY, ANY, "stop", "studio's rule: what it stopped tells more than how it feels"),
    ({"dull"}, {"same on both sides"}, {"", "nothing"}, {"", "today", "days"}, MILD, "ease",
     "secondary summary: a dull ache of both sides 24 to 72 h after new work is unaccustomed work"),
    (ANY, ANY, ANY, ANY, MODERATE, "watch", "studio's rule: from 4 of 10 on"),
    (ANY, ANY, ANY, ANY, ANY, "watch", "studio's rule: everything else is looked at again"),
]


def fits(line, combination) -> bool:
    return all(allowed is ANY or each in allowed for allowed, each in zip(line[:5], combination, strict=True))


def combinations():
    return itertools.product(FEELS, PLACES, EFFECTS, TIMES, NUMBERS)


def asked(feel, place, effect, time, number) -> str:
    return pain.asks(pain.Report(PLACES[place], feel, number, effect, since=time))


def test_every_combination_asks_what_the_first_line_says_that_fits_it():
    wrong = [each for each in combinations() if asked(*each) != next(line for line in TABLE if fits(line, each))[5]]
    assert wrong == []


def test_every_line_of_the_table_is_the_first_for_something():
    used = {next(at for at, line in enumerate(TABLE) if fits(line, each)) for each in combinations()}
    assert used == set(range(len(TABLE)))


def test_more_of_anything_never_asks_for_less():
    """A higher number, a worse effect and a longer time leave it as urgent or more."""
    rank = pain.URGENCY.index
    for feel, place, effect, time, number in combinations():
        here = rank(asked(feel, place, effect, time, number))
        worse = [
            (feel, place, effect, time, (number or 0) + 1) if (number or 0) < 10 else None,
            (feel, place, EFFECTS[EFFECTS.index(effect) + 1], time, number) if effect != "class" else None,
            (feel, place, effect, TIMES[TIMES.index(time) + 1], number) if time != "longer" else None,
        ]
        assert all(rank(asked(*each)) >= here for each in worse if each is not None), (feel, place, effect, time)


def test_each_answer_says_a_next_step_of_its_own():
    steps = {pain.next_step(each) for each in pain.URGENCY}
    assert len(steps) == 4
    assert all(heading and sentence for heading, sentence in steps)


@pytest.mark.parametrize("asked_for", [pain.STOP, pain.WATCH, pain.EASE])
@pytest.mark.parametrize("why", [pain.CAME_BACK, pain.LASTS, pain.SEEN_TODAY])
def test_whatever_is_referred_names_a_health_professional(asked_for, why):
    heading, _sentence = pain.next_step(asked_for, referred=why)
    assert "health professional" in heading


def test_no_step_names_an_injury():
    """Such words belong to a clinician."""
    said = " ".join(part for each in pain.URGENCY for part in pain.next_step(each)).lower()
    assert not [word for word in ("tendin", "fracture", "impingement", "sprain", "strain", "apophys") if word in said]
