"""The table of what pain asks for: every row with its source, every combination of what is tapped, and that nothing
that is worse is ever answered more mildly."""
import datetime as dt
import itertools
import random

import pytest

from progress.rules import feet, pain, pain_returns, red_words

FEELS, SIGNS = ([key for key, _words in rows] for rows in (pain.FEELS, pain.SIGNS))
EFFECTS, TIMES = (["", *(key for key, _words in rows)] for rows in (pain.STOPPED, pain.SINCE))
NUMBERS = [None, *range(11)]
BOTH_HEELS, BOTH_CALVES = ("L-heel", "R-heel"), ("L-calf", "R-calf")
DAY = dt.date(2031, 3, 3)
# Words that name nothing, and for each thing that words can name a sentence in English and in German.
HARMLESS = ("", "hurts when she points", "beim Plié", "after the barre")
TOLD = {
    "head": ("hit her head on the barre", "mit dem Kopf an die Stange"), "neck": ("neck hurts", "der Nacken"),
    "night": ("it woke her at night", "ist davon nachts aufgewacht"), "snap": ("we heard it snap", "es hat geknackt"),
    "gives_way": ("the knee gives way", "das Knie blockiert"), "unwell": ("has a fever", "sie hat Fieber"),
    "no_weight": ("can’t really put weight on it", "kann nicht mehr auftreten"),
    "looks": ("the toe looks blue", "der Zeh steht schief"), "swollen": ("ankle is swollen", "dick geschwollen"),
    "numb": ("foot is tingling", "der Fuß kribbelt"), "limps": ("she limps", "sie humpelt"),
    "sharp": ("like a knife, stabbing", "ein stechender Schmerz"), "twisted": ("rolled it", "ist umgeknickt"),
    "rest": ("hurts at rest", "tut in Ruhe weh"), "collapse": ("fainted", "ihr wurde schwarz vor Augen"),
}

# Each row: where it comes from, what is at least asked, and a report that it alone answers so.
ROWS = [
    ("concussion guidance for sport", "head", {"places": ("head",)}),
    ("concussion guidance for sport", "head", {"places": ("neck",), "intensity": 1}),
    ("Ottawa ankle rules criteria", "doctor_today", {"feels": ("limps",)}),
    ("Ottawa ankle rules criteria", "doctor_today", {"signs": ("no_weight",)}),
    ("regional health-service guidance: swollen, red or hot joint", "doctor_today", {"feels": ("swollen",)}),
    ("(from memory); today is the studio's own rule", "doctor_today", {"feels": ("numb",)}),
    ("paediatric musculoskeletal red flags", "doctor_today", {"signs": ("night",)}),
    ("paediatric musculoskeletal red flags", "doctor_today", {"signs": ("unwell",)}),
    ("(from memory); today is the studio's own rule", "doctor_today", {"signs": ("gives_way",)}),
    ("(from memory); today is the studio's own rule", "doctor_today", {"signs": ("snap",)}),
    ("first aid (from memory)", "emergency", {"signs": ("looks",)}),
    ("first aid (from memory)", "emergency", {"note": "fainted"}),
    *(("a fresh twist or blow at its places", "doctor_today",
       {"places": ("L-ankle-outer",), "signs": ("twisted",), "stopped": effect}) for effect in ("changed", "exercise")),
    ("pain that does not remit, from moderate on", "doctor_today", {"signs": ("rest",), "intensity": 6}),
    ("severe band of a faces scale (Tsze et al. 2018)", "doctor_today", {"intensity": 8}),
    ("the studio's own rule", "doctor_today", {"stopped": "class"}),
    *(("after the places of the Ottawa ankle and foot rules", "doctor_today",
       {"places": (f"R-{place}",), "feels": ("sharp",), "stopped": "exercise"})
      for place in ("ankle-inner", "ankle-outer", "top", "outer-edge")),
    ("after the places of the Ottawa ankle and foot rules", "doctor_today",
     {"places": ("R-top",), "feels": ("sharp",), "stopped": "changed"}),
    ("after a fall, a twist or a blow", "stop", {"signs": ("twisted",)}),
    ("pain that does not remit", "stop", {"signs": ("rest",)}),
    ("pain that changes technique", "stop", {"stopped": "changed", "intensity": 4}),
    ("secondary summary: localised and sharper means stop", "stop", {"feels": ("sharp",)}),
    ("a questionnaire of professional dancers", "stop", {"stopped": "exercise"}),
    ("moderate band of a faces scale (Tsze et al. 2018)", "stop", {"intensity": 6}),
    *(("the studio's own rule", "stop", {"places": (place,), "stopped": "changed"})
      for place in ("L-hip", "R-thigh", "L-knee")),
    ("the studio's own rule", "watch", {}),
]


def report(**said) -> pain.Report:
    return pain.Report(**{"places": ("L-shin",), "feels": ("dull",), "on": DAY} | said)


@pytest.mark.parametrize(("source", "asked", "said"), ROWS)
def test_each_row_of_the_table_answers_what_it_names(source, asked, said):
    assert pain.asks(report(**said)) == asked
    fitting = [row for row in pain.rows() if row.fits(report(**said)) and row.asks == asked]
    assert len(fitting) == 1
    assert source in fitting[0].source


def test_each_row_is_held_by_one_of_these_and_says_where_it_comes_from():
    held = [row for row in pain.rows() if any(
        row.fits(report(**said)) and row.asks == asked for _source, asked, said in ROWS)]
    assert held == list(pain.rows())
    assert all(row.source for row in pain.rows())


@pytest.mark.parametrize(("number", "asked"), [(5, "watch"), (6, "stop"), (7, "stop"), (8, "doctor_today")])
def test_the_number_alone_asks_from_its_bands_on(number, asked):
    assert pain.asks(report(intensity=number)) == asked


def expected(feel, places, effect, number) -> str:
    """The table told once more, in its own words."""
    at_bone = {place.split("-", 1)[-1] for place in places} & {"ankle-inner", "ankle-outer", "top", "outer-edge"}
    not_this, otherwise = effect in ("exercise", "class"), effect in ("changed", "exercise", "class")
    if {"head", "neck"} & set(places):
        return "head"
    if feel in ("limps", "swollen", "numb") or (number or 0) >= 8 or effect == "class":
        return "doctor_today"
    if feel == "sharp":
        return "doctor_today" if at_bone and otherwise else "stop"
    leg = {"hip", "thigh", "knee"} & {place.split("-", 1)[-1] for place in places} and effect == "changed"
    changes = effect == "changed" and (number or 0) >= 4
    return "stop" if not_this or (number or 0) >= 6 or leg or changes else "watch"


def test_every_combination_of_what_is_tapped_asks_what_the_table_says():
    places = [(place,) for place in feet.PLACE_KEYS] + [(), BOTH_HEELS, BOTH_CALVES, ("L-heel", "R-calf")]
    every = itertools.product(FEELS, places, EFFECTS, TIMES, NUMBERS)
    wrong = [
        (feel, where, effect, since, number) for feel, where, effect, since, number in every
        if pain.asks(pain.Report(where, (feel,), number, effect, DAY, since)) != expected(feel, where, effect, number)
    ]
    assert wrong == []


# --- never more mildly ------------------------------------------------------------------------------------------------
def at_random(dice: random.Random) -> pain.Report:
    def some(keys, most):
        return tuple(dice.sample(keys, dice.randint(0, most)))

    note = dice.choice([*HARMLESS, *(words for both in TOLD.values() for words in both)])
    return pain.Report(
        some(feet.PLACE_KEYS, 3), some(FEELS, 2), dice.choice(NUMBERS), dice.choice(EFFECTS), DAY, dice.choice(TIMES),
        dice.choice([(), (), some(SIGNS, 2)]), note, some(sorted(red_words.PATTERNS), 3) if dice.random() < 0.3 else (),
    )


def other_side(place: str) -> str:
    return {"L": "R", "R": "L"}.get(place[0], "") + place[1:] if place[1:2] == "-" else place


def worse(one: pain.Report, dice: random.Random) -> list[pain.Report]:
    """The same report with more of one thing each."""
    told = dice.choice([words for both in TOLD.values() for words in both])
    later, harder = TIMES.index(one.since) + 1, EFFECTS.index(one.stopped) + 1
    more = [
        {"intensity": min(10, (one.intensity or 0) + dice.randint(1, 4))}, {"feels": (*one.feels, dice.choice(FEELS))},
        {"signs": (*one.signs, dice.choice(SIGNS))}, {"places": (*one.places, dice.choice(feet.PLACE_KEYS))},
        {"places": tuple(dict.fromkeys([*one.places, *map(other_side, one.places)]))},
        {"note": f"{one.note} {told}".strip()}, {"not_meant": one.not_meant[1:]},
        {"stopped": EFFECTS[min(harder, len(EFFECTS) - 1)]}, {"since": TIMES[min(later, len(TIMES) - 1)]},
    ]
    return [pain.Report(**{**vars(one), **each}) for each in more]


def severity(one: pain.Report, stricter: pain.Stricter = pain.USUAL) -> tuple[int, int]:
    """The answer's place among the answers; and that of its heading, read as a teacher reads it."""
    asked = pain.asks(one, stricter)
    heading, _sentence = pain.next_step(
        asked, referred=pain_returns.referral([one]), is_ache=pain.is_expected_ache(one)
    )
    headings = [
        "Leave out what hurts, and watch.", "No rises, no jumps. A health professional should see it.",
        "Stop for today. Seated work and barre on flat feet only.",
        "Stop for today. A health professional should see it.",
        "Stop now. Ring home. To be seen by a doctor today.",
        "Stop now. Keep still. Ring home. To be seen by a doctor today.",
        "Stop now. Ring the emergency number, then home.",
    ]
    return pain.URGENCY.index(asked), headings.index(heading)


def test_of_twenty_thousand_reports_none_is_answered_more_mildly_for_being_worse():
    dice = random.Random(20310303)
    milder = []
    for _each in range(20_000):
        one = at_random(dice)
        here = severity(one)
        for other in worse(one, dice):
            asked, heading = severity(other)
            if asked < here[0] or heading < here[1]:
                milder.append((one, other))
    assert milder == []


def test_a_stricter_rule_never_answers_more_mildly_and_is_never_milder_than_the_usual_one():
    dice = random.Random(7)
    for _each in range(5_000):
        one = at_random(dice)
        rule = pain.Stricter(dice.randint(1, 8), frozenset(dice.sample(sorted(pain.names_of(feet.PLACE_KEYS)), 3)))
        assert severity(one, rule) >= severity(one)
        assert all(severity(other, rule)[0] >= severity(one, rule)[0] for other in worse(one, dice))


@pytest.mark.parametrize("doctor_from", [9, 10, 0, -1])
def test_a_rule_that_would_be_milder_is_none(doctor_from):
    with pytest.raises(ValueError, match="never milder"):
        pain.Stricter(doctor_from)


def test_what_a_stricter_rule_once_answered_is_never_asked_more_mildly_again():
    then = report(intensity=4, asked="doctor_today")
    assert pain.asks(then) == "doctor_today"
    assert pain_returns.referral([then]) == pain.SEEN_TODAY
    assert pain.asks(report(intensity=9, asked="watch")) == "doctor_today"


# --- the words --------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(("key", "words"), [(key, words) for key, both in TOLD.items() for words in both])
def test_words_that_name_a_sign_are_answered_like_the_sign(key, words):
    assert key in red_words.named_in(words)
    tapped = {"places": (key,)} if key in pain.HEAD_PLACES else {"signs": (key,)} if key in SIGNS else {"feels": (key,)}
    told = report(note=words)
    assert pain.URGENCY.index(pain.asks(told)) >= pain.URGENCY.index(pain.asks(report(**tapped)))
    named = tuple(red_words.named_in(words))
    assert pain.asks(report(note=words, not_meant=named)) == "watch"
    assert pain.asks(report(**tapped, note=words, not_meant=named)) == pain.asks(report(**tapped))


@pytest.mark.parametrize("words", HARMLESS)
def test_words_that_name_nothing_ask_nothing(words):
    assert red_words.named_in(words) == frozenset()


# --- what was answered too mildly once --------------------------------------------------------------------------------
def test_the_same_report_is_no_milder_from_a_run_where_it_is_known_that_the_exercise_stopped():
    sharp = {"places": ("L-ankle-outer",), "feels": ("sharp",)}
    assert (pain.asks(report(**sharp)), pain.asks(report(**sharp, stopped="exercise"))) == ("stop", "doctor_today")


@pytest.mark.parametrize("feel", FEELS)
@pytest.mark.parametrize("places", [(), ("L-top",), ("R-achilles",), ("back",), BOTH_HEELS])
def test_ten_of_ten_that_stopped_the_class_is_seen_by_a_doctor_today(feel, places):
    said = pain.Report(places, (feel,), 10, "class", DAY, note="thigh")
    assert pain.asks(said) == "doctor_today"
    assert not pain.may_answer("teacher", referred=pain_returns.referral([said]), may_overrule=False)


@pytest.mark.parametrize("place", ["L-top", "L-outer-edge"])
def test_sharp_pain_at_a_foot_place_of_the_ottawa_rules_that_stopped_the_exercise_is_seen_today(place):
    assert pain.asks(report(places=(place,), feels=("sharp",), stopped="exercise")) == "doctor_today"


@pytest.mark.parametrize("place", ["back", "L-knee"])
def test_a_sharp_back_or_knee_is_not_told_to_stop_the_rises_only(place):
    step = " ".join(pain.next_step(pain.asks(report(places=(place,), feels=("sharp",)))))
    assert step.startswith("Stop for today.")
    assert "Leave out whatever hurts" in step and "no bending back" in step


def test_a_knock_on_the_head_in_words_is_answered_as_one():
    said = pain.Report((), ("other",), 6, on=DAY, note="Hit her head on the barre")
    assert pain.asks(said) == "head"
    assert "emergency number" in pain.next_step("head")[1]


@pytest.mark.parametrize("words", [
    "wakes at night", "has a fever", "we heard a snap", "her knee locks", "the ankle gives way",
    "wacht nachts auf", "hat Fieber", "es hat geknallt", "das Knie blockiert", "ist weggeknickt",
    "nicht krank, hat abgenommen",
])
def test_a_red_flag_in_words_is_seen_today(words):
    assert pain.asks(report(note=words)) == "doctor_today"


@pytest.mark.parametrize("place", ["heel", "shin", "knee", "big-toe-joint", "ankle-inner", "achilles"])
def test_pain_of_both_sides_is_an_expected_ache_at_calves_and_soles_only(place):
    said = report(places=(f"L-{place}", f"R-{place}"), intensity=3)
    assert not pain.is_expected_ache(said)
    assert "expected" not in " ".join(pain.next_step(pain.asks(said), is_ache=pain.is_expected_ache(said)))


@pytest.mark.parametrize("place", ["heel", "shin"])
def test_both_heels_or_shins_dull_three_of_ten_are_looked_at(place):
    """Heel pain during growth: NHS trust leaflet; that the shins go the same way is the studio's own rule."""
    said = report(places=(f"L-{place}", f"R-{place}"), intensity=3)
    referred = pain_returns.referral([said])
    assert referred == pain.GROWING
    assert "health professional should see it" in pain.next_step(pain.asks(said), referred=referred)[0]


def test_seven_of_ten_that_stopped_the_exercise_stops_the_day_and_tells_the_parent():
    said = report(feels=("other",), intensity=7, stopped="exercise")
    assert pain.asks(said) == "stop"
    assert "tell the parent today" in pain.next_step("stop")[1]


def test_watch_always_tells_the_parent_and_asks_in_the_next_class():
    for is_ache in (False, True):
        step = pain.next_step("watch", is_ache=is_ache)[1]
        assert "Tell the parent today." in step
        assert "list of the next class: ask there" in step


def test_several_feelings_count_by_the_worst_of_them():
    assert pain.asks(report(feels=("sharp", "swollen"))) == "doctor_today"
    assert pain.asks(report(feels=("dull", "sharp"))) == "stop"


# --- what is said -----------------------------------------------------------------------------------------------------
def test_each_answer_says_a_next_step_of_its_own():
    steps = {pain.next_step(each) for each in pain.URGENCY if each != pain.EASE}
    assert len(steps) == 5
    assert all(heading and sentence for heading, sentence in steps)


@pytest.mark.parametrize("asked_for", [pain.STOP, pain.WATCH, pain.EASE])
@pytest.mark.parametrize("why", [pain.CAME_BACK, pain.LASTS, pain.SEEN_TODAY, pain.BONE, pain.GROWING])
def test_whatever_is_referred_names_a_health_professional(asked_for, why):
    heading, _sentence = pain.next_step(asked_for, referred=why)
    assert "health professional" in heading


def test_no_step_names_an_injury():
    """Such words belong to a clinician."""
    said = " ".join(part for each in pain.URGENCY for part in pain.next_step(each)).lower()
    assert not [word for word in ("tendin", "fracture", "impingement", "sprain", "strain", "apophys") if word in said]


# --- read with a clinician's eye --------------------------------------------------------------------------------------
@pytest.mark.parametrize("words", [
    "fainted", "short of breath", "chest pain", "a seizure", "she is confused", "kippte um, ohnmächtig", "benommen",
])
def test_what_is_an_emergency_says_so_first(words):
    assert pain.asks(report(note=words)) == "emergency"
    heading, sentence = pain.next_step("emergency")
    assert heading.startswith("Stop now. Ring the emergency number") and "Do not move" in sentence


@pytest.mark.parametrize(("said", "asked"), [
    ({"places": ("R-ankle-outer",), "signs": ("twisted",), "intensity": 4, "stopped": "changed"}, "doctor_today"),
    ({"places": ("R-ankle-outer",), "note": "umgeknickt", "intensity": 4, "stopped": "nothing"}, "stop"),
    ({"places": ("back",), "intensity": 5, "stopped": "changed"}, "stop"),
    ({"places": ("L-knee",), "intensity": 2, "stopped": "changed"}, "stop"),
    ({"places": ("R-shin",), "note": "tut in Ruhe weh"}, "stop"),
    ({"note": "hat Temperatur"}, "doctor_today"), ({"note": "gefühllos"}, "doctor_today"),
])
def test_a_twist_a_changed_dance_and_pain_in_rest_are_no_small_matter(said, asked):
    assert pain.asks(report(**said)) == asked


@pytest.mark.parametrize(("said", "why"), [
    ({"places": ("L-shin",), "feels": ("sharp",), "stopped": "changed"}, "bone"),
    ({"places": ("L-ball",), "feels": ("sharp",), "since": "week"}, "bone"),
    ({"places": ("L-ball",), "feels": ("sharp",), "since": "today"}, ""),
    ({"places": ("back",), "signs": ("rest",)}, "bone"),
])
def test_sharp_pain_where_bone_is_stressed_is_looked_at(said, why):
    """Stress injury of the midfoot in ballet: O'Malley et al. 1996; shin and ball: from memory."""
    assert pain_returns.referral([report(**said)]) == why


@pytest.mark.parametrize(("days", "is_back"), [((0, 27, 55), True), ((0, 28, 56), True), ((0, 28, 57), False)])
def test_what_hurts_on_three_days_of_eight_weeks_has_come_back(days, is_back):
    told = [report(places=("L-calf",), on=DAY + dt.timedelta(each), settled_on=DAY + dt.timedelta(each + 1))
            for each in days]
    assert bool(pain_returns.comes_back(told[-1], told[:-1])) == is_back


def test_an_ache_without_a_number_or_with_words_is_no_expected_one():
    assert pain.is_expected_ache(report(places=BOTH_CALVES, intensity=2))
    assert not pain.is_expected_ache(report(places=BOTH_CALVES))
    assert not pain.is_expected_ache(report(places=BOTH_CALVES, intensity=2, note="worse than last week"))
