"""Invented charts for the tests: one ordinary term, and the awkward ones a drawing must survive."""

from dataclasses import replace
from datetime import date, timedelta

from progress.drawing.parts import (
    Break,
    Cap,
    Chart,
    ChartSide,
    EndLabel,
    Event,
    GradeWord,
    Holiday,
    Knot,
    LevelSince,
    Point,
    Target,
)

MONDAY = date(2026, 1, 5)
AS_OF = date(2026, 3, 24)


def day(week: int, weekday: int) -> date:
    """The day of a week of the term (week 1, Monday 0)."""
    return MONDAY + timedelta(days=7 * (week - 1) + weekday)


def points(values: list[float], first_week: int = 1, **flags) -> tuple[Point, ...]:
    """One result each Tuesday."""
    return tuple(
        Point(day(first_week + i, 1), value, words=f"{value:g} rises", **flags)
        for i, value in enumerate(values)
    )


def knots(levels: list[float], wide: float = 3, first_week: int = 1, protocol: int = 1) -> tuple[Knot, ...]:
    """One knot each Tuesday: the band ``wide`` to both sides, the level's own range a third of it."""
    return tuple(
        Knot(day(first_week + i, 1), v, v - wide / 3, v + wide / 3, v - wide, v + wide, protocol)
        for i, v in enumerate(levels)
    )


def ending(name: str, verdict: str = "gaining") -> EndLabel:
    """A label as long as labels get in English."""
    word = verdict.replace("_", " ")
    return EndLabel(f"{name} 18", "likely 17 to 19", verdict, word, "+0.7 a week, likely −0.5 to +1.0", 2, 4)


def side(key: str, values: list[float], verdict: str = "gaining", **more) -> ChartSide:
    """A side with a result and a knot each Tuesday."""
    name = {"L": "Left", "R": "Right", "": "Level"}[key]
    return ChartSide(key, name, points(values), knots(values), ending(name, verdict), **more)


RISING = [10, 10, 11, 12, 12, 13, 14, 14, 15, 16, 17, 18]
FLAT = [10, 11, 12, 12, 13, 12, 12, 13, 12, 12, 12, 12]

PLAIN_TERM = Chart(
    key="rises",
    title="Rises, one foot",
    unit="rises",
    kind="count",
    starts_on=MONDAY,
    ends_on=date(2026, 4, 4),
    as_of=AS_OF,
    as_of_words="as of 24 March",
    sentence="Left about 12, level since about week 7; right about 18, gaining.",
    sides=(
        side(
            "L",
            FLAT,
            "stalled",
            level_since=LevelSince(day(7, 0), "left level since about week 7", day(6, 0)),
        ),
        side("R", RISING),
    ),
    target=Target(20, day(4, 1), "target 20, set 27 January"),
    holidays=(Holiday("half-term", day(7, 0), day(7, 6)),),
    breaks=(Break(day(4, 1), "class run, stopped at 16", "heel touches the string: a new line starts"),),
    events=(
        Event(day(6, 5), "growth", "14 February, height +1.2 cm since January"),
        Event(day(9, 3), "pain", "5 March, left heel, dull, 3 of 10; gone by the 7th"),
    ),
)


def _two_breaks() -> Chart:
    left = (
        *knots([10, 11, 12], protocol=1),
        *knots([9, 10, 11, 12], 3, 4, 2),
        *knots([8, 9, 9, 10, 11], 3, 8, 3),
    )
    sides = (replace(PLAIN_TERM.sides[0], knots=left), PLAIN_TERM.sides[1])
    breaks = (
        Break(day(4, 1), "class run, stopped at 16", "heel touches the string: a new line starts"),
        Break(
            day(8, 1),
            "heel touches the string",
            "one metronome for everyone, sixty beats, string at ankle height",
        ),
    )
    return replace(PLAIN_TERM, sides=sides, breaks=breaks)


def _both_capped() -> Chart:
    tops = [14, 15, 16, 16, 16, 16]
    capped = tuple(Point(day(w + 1, 1), v, capped=v == 16, words="at least 16") for w, v in enumerate(tops))
    sides = tuple(
        ChartSide(key, name, capped, knots(tops), ending(name))
        for key, name in (("L", "Left"), ("R", "Right"))
    )
    return replace(
        PLAIN_TERM, sides=sides, caps=(Cap(16, MONDAY, day(13, 5), "arrow: at least 16"),), breaks=()
    )


def _sixty() -> Chart:
    many = tuple(Point(day(1 + i // 5, i % 5), 10 + (i * 7) % 9, words=str(i)) for i in range(60))
    bad = (*many[:38], replace(many[38], bad_day=True), replace(many[39], held_back=True), *many[40:])
    sides = (replace(PLAIN_TERM.sides[0], points=bad), replace(PLAIN_TERM.sides[1], points=many))
    return replace(
        PLAIN_TERM,
        sides=sides,
        bad_day_words="one bad day counts little",
        held_back_words="waiting to be confirmed",
    )


def _busy_rail() -> Chart:
    events = tuple(
        Event(day(w, d), kind, f"{d + w} February, {kind}, and a good many words about it")
        for w, d, kind in (
            (5, 1, "pain"),
            (5, 3, "growth"),
            (6, 0, "pain"),
            (6, 5, "pain"),
            (11, 5, "growth"),
        )
    )
    holidays = (
        Holiday("Founders’ day and half-term", day(7, 0), day(7, 6)),
        Holiday("snow", day(2, 2), day(2, 2)),
    )
    return replace(PLAIN_TERM, events=events, holidays=holidays)


def _grades() -> Chart:
    words = (GradeWord(0, "lost"), GradeWord(1, "corrected"), GradeWord(2, "clean"))
    sides = (
        side("L", [0, 1, 1, 0, 1, 1, 2, 1, 1, 2]),
        side("R", [1, 1, 2, 2, 2, 2, 2, 2, 2, 2], "at_target"),
    )
    return replace(
        PLAIN_TERM, kind="grade", unit="", sides=sides, grades=words, target=None, breaks=(), events=()
    )


def _long_words() -> Chart:
    long = EndLabel(
        "Rechter Fuß 18", "wahrscheinlich 17 bis 19", "not_clear", "noch nicht klar", "+0,7 pro Woche"
    )
    sides = (PLAIN_TERM.sides[0], replace(PLAIN_TERM.sides[1], end=long))
    breaks = (Break(day(3, 1), "Klassenlauf, bei sechzehn angehalten, ohne Schnur gezählt",
                    "Ferse berührt die Schnur: eine neue Linie, gezählt nach sechzig Schlägen"),)  # fmt: skip
    return replace(
        PLAIN_TERM, sides=sides, breaks=breaks, as_of_words="Stand: Dienstag, 24. März, Woche zwölf"
    )


NO_RESULTS = replace(
    PLAIN_TERM, sides=(ChartSide("L", "Left"), ChartSide("R", "Right")), breaks=(), events=(), target=None
)
HOLDS = replace(
    PLAIN_TERM, kind="hold", unit="seconds", breaks=(), events=(), target=Target(20, None, "target 20 s"),
    sides=(
        side("L", [5, 6, 5, 7, 8, 7, 8, 10, 8, 11, 10, 11]),
        side("R", [6, 7, 8, 7, 9, 11, 10, 12, 11, 15, 14, 16]),
    ),
)  # fmt: skip

CASES = {
    "plain term": PLAIN_TERM,
    "no results": NO_RESULTS,
    "one result": replace(
        NO_RESULTS,
        sides=(
            ChartSide(
                "L", "Left", points([9]), (), EndLabel("Left 9", "", "too_early", "too early, 1 of 4", had=1)
            ),
        ),
    ),
    "one side only": replace(PLAIN_TERM, sides=(side("", RISING),)),
    "equal levels": replace(PLAIN_TERM, sides=(side("L", RISING), side("R", RISING))),
    "left above right": replace(PLAIN_TERM, sides=(side("L", RISING), side("R", FLAT))),
    "both capped": _both_capped(),
    "two breaks": _two_breaks(),
    "sixty results": _sixty(),
    "busy rail": _busy_rail(),
    "grades": _grades(),
    "holds": HOLDS,
    "long words": _long_words(),
    "early in term": replace(PLAIN_TERM, as_of=day(3, 1), as_of_words="as of 20 January", breaks=()),
    "after the term": replace(PLAIN_TERM, as_of=date(2026, 5, 2), as_of_words="as of 2 May"),
    "another term": replace(PLAIN_TERM, starts_on=day(5, 0), holidays=()),
    "both level": replace(
        PLAIN_TERM,
        sides=tuple(
            side(
                key,
                FLAT,
                "stalled",
                level_since=LevelSince(day(11, 0), f"{name} level since about week 7", day(8, 0)),
            )
            for key, name in (("L", "left"), ("R", "right"))
        ),
    ),
}
