"""Eight weeks of one child as one story: hurt in a run, seen by a doctor, back in steps, well, and hurt again.

At each turn it is read on screen, on both papers, and on the family's page in both languages.
"""
import datetime as dt
import re
import uuid

import pytest
from django.urls import reverse
from django.utils import timezone

from progress.actions import answering, returning
from progress.actions.day import ClassDay, state_attendance
from progress.actions.pain import report_pain
from progress.models import ClassLog, FollowUp, HomeTold, PainAnswer, ReturnStep
from progress.queries.resting import rests
from progress.rules.resting import BOTH, NOTHING, SMALL_JUMPS
from studio.actions import Refused
from tests import factories
from tests.family.conftest import family_of
from tests.family.test_family_words import FORBIDDEN
from tests.family.test_withdrawn import readable
from tests.reading import words_of

HURT, SEEN, RETURN = dt.date(2026, 1, 27), dt.date(2026, 1, 29), dt.date(2026, 3, 24)
CLASSES = [dt.date(2026, 2, 3) + dt.timedelta(weeks=week) for week in range(4)]


@pytest.fixture
def clock(time_machine):
    def at(on: dt.date, hour: int = 18) -> None:
        time_machine.move_to(dt.datetime.combine(on, dt.time(hour), dt.UTC), tick=False)
    return at


@pytest.fixture
def ama(cast, clock):
    """Ama in a class with a number to ring, her family's page open in English and in German."""
    clock(dt.date(2026, 1, 6))
    cast.studio.phone = "01632 960117"
    cast.studio.save()
    cast.english = family_of(cast, cast.ama, language_code="en-gb").client
    cast.german = family_of(cast, cast.ama, language_code="de").client
    return cast


def hurt(cast, on: dt.date, **fields) -> None:
    held = factories.ScreeningFactory(class_group=cast.class_group, term=cast.term, held_on=on)
    report_pain(
        key=uuid.uuid4(), student=cast.ama, class_group=cast.class_group, screening=held, measure=cast.rises,
        reported_on=on, by=cast.teacher, note="", since="today",
        **({"places": ["L-achilles"], "intensity": 6, "stopped": "exercise", "at_count": 5} | fields),
    )


def a_class(cast, on: dt.date) -> ClassLog:
    state_attendance(
        key=uuid.uuid4(), day=ClassDay(cast.class_group, cast.term, on), present=[cast.ama], absent=[], by=cast.teacher)
    return ClassLog.objects.get(class_group=cast.class_group, held_on=on)


def text(answer) -> str:
    return " ".join(readable(answer).split())


def told(cast, staff) -> dict[str, str]:
    """Everything that tells of her, as it reads now. A paper's lines are set apart from its columns."""
    ama = cast.ama.pk
    family = reverse("progress:family-child", args=[ama])
    pages = {
        "page": text(staff.get(f"/students/{ama}/")), "follow-ups": text(staff.get("/follow-ups/")),
        "record": " ".join(words_of(staff.get(f"/students/{ama}/record/")).split()),
        "note": " ".join(words_of(staff.get(f"/students/{ama}/referral-note/print/")).split()),
        "english": text(cast.english.get(family)), "german": text(cast.german.get(family)),
    }
    for language in ("english", "german"):
        # The page itself says that it does not say whether a child is ready.
        assert not FORBIDDEN.search(re.sub(r"whether a child is ready", "", pages[language]))
    return pages


def has(pages: dict[str, str], **said: str | tuple[str, ...]) -> None:
    for name, words in said.items():
        for each in (words,) if isinstance(words, str) else words:
            assert each in pages[name.replace("_", "-")], (name, each, pages[name.replace("_", "-")])


def test_eight_weeks_of_one_child(as_teacher, ama, clock):
    """Hurt, seen, back in steps, in full class for four weeks, and hurt again in the same foot."""
    cast = ama
    clock(HURT)
    hurt(cast, HURT, feels=["limps"])
    assert rests([cast.ama.pk], now=timezone.now())[cast.ama.pk].allows == NOTHING
    HomeTold.objects.create(report=cast.ama.pain_reports.get(), who="Abena", way=HomeTold.PHONE, by=cast.teacher)
    pages = told(cast, as_teacher)
    has(
        pages, page="left Achilles", follow_ups="left Achilles",
        record=("Now: nothing today, since 27 January.",
                "27 January: Limps, left Achilles, 6 of 10. Not answered yet."),
        note=("there was a sign for a doctor on the same day", "in rises, stopped at count 5", "Abena"),
        english=("27 January: limps, left Achilles, 6 of 10. The exercise was stopped. Home was told on 27 January.",
                 "Please have it looked at by a doctor today", "01632 960117", "until a doctor has seen it"),
        german=("27. Januar: hinkt, linke Achillessehne", "Die Übung wurde abgebrochen.",
                "Bitte lassen Sie es heute noch ärztlich untersuchen", "Sie erreichen die Schule unter 01632 960117."),
    )
    english = pages["english"]
    assert "Slow rises" not in english and english.index("What hurt") < english.index("What Ama practised")

    clock(SEEN)
    answering.answer_pain(
        follow_up=FollowUp.objects.get(closed_at__isnull=True), closed_on=SEEN, by=cast.teacher,
        answer=answering.Answer(
            PainAnswer.CLINICIAN, "No swelling.", 3, said_by="Dr Vane", said_on=SEEN, allowed="all, in steps",
            allows="all",
        ),
    )
    assert rests([cast.ama.pk], now=timezone.now())[cast.ama.pk].allows == BOTH
    pages = told(cast, as_teacher)
    has(
        pages, page="all, in steps", record="Now: rises on two feet; no jumps, since 29 January.",
        note=("Dr Vane", "all, in steps"),
        english=("The way back into class", "In class now: rises on two feet; no jumps.", "all, in steps"),
        german=("Der Weg zurück in den Unterricht",
                "Im Unterricht jetzt: Fersenheben auf beiden Beinen; keine Sprünge."),
    )
    assert "What hurt" not in pages["english"] and "Slow rises" not in pages["english"]

    for on in CLASSES:
        clock(on)
        log = a_class(cast, on)
        returning.move_up(student=cast.ama, class_log=log, today=on, note="", by=cast.teacher)
        with pytest.raises(Refused):
            returning.move_up(student=cast.ama, class_log=log, today=on, note="", by=cast.teacher)
        if on == CLASSES[1]:
            assert rests([cast.ama.pk], now=timezone.now())[cast.ama.pk].allows == SMALL_JUMPS
            has(told(cast, as_teacher), english="In class now: small jumps on two feet only.",
                german="nur kleine Sprünge auf beiden Beinen", record="small jumps on two feet only, since 10 Feb")
    assert [step.step for step in ReturnStep.objects.all()] == [3, 4, 5, 6, 8]
    assert rests([cast.ama.pk], now=timezone.now()) == {}
    pages = told(cast, as_teacher)
    has(pages, english="Slow rises", german="Fünf Minuten, dreimal in der Woche.")
    assert "The way back" not in pages["english"] and "Now:" not in pages["record"]

    clock(RETURN)
    hurt(cast, RETURN, feels=["dull"], intensity=3, stopped="nothing", places=["L-heel"], at_count=None)
    assert cast.ama.pk in rests([cast.ama.pk], now=timezone.now())
    pages = told(cast, as_teacher)
    has(
        pages, page="left heel", follow_ups="left heel", record="24 March: Dull ache, left heel, 3 of 10.",
        note=("it has come back", "Dull ache, left heel, 3 of 10", "Earlier, and how it ended: 27 January 2026:",
              "Dr Vane, on 29 January; allowed: all, in steps."),
        english=("24 March: dull ache, left heel, 3 of 10.",
                 "Please have it looked at by a doctor or another health professional, before the next class.",
                 "no pointe shoes"),
        german=("24. März: dumpf, linke Ferse, 3 von 10.",
                "Bitte lassen Sie es vor der nächsten Stunde ärztlich oder physiotherapeutisch untersuchen."),
    )
    assert "Slow rises" not in pages["english"] and "We ask about it" not in pages["english"]
