"""Reads a student's work in class by week: what was done, how often the student came, and where the load jumped."""
import datetime as dt
from dataclasses import dataclass, field

from django.utils.formats import date_format
from django.utils.text import capfirst
from django.utils.translation import gettext as _

from progress.models import Attendance, ExerciseVersion, LoadRule, LogEntry
from progress.rules.dose import Dose
from progress.rules.load_of_feet import DEFAULT_PERCENT, Done, Jump, jumps, weekly_load
from progress.words.speech import voice_for
from studio.models import ClassGroup, Student, Term
from studio.templatetags.wording import write_number

# A jump is said as long as it is news: this week's and last week's.
NEWS_WEEKS = 2


@dataclass(frozen=True)
class Cell:
    """Repetitions of one kind in one week; `share` of the fullest week of that kind, from 0 to 1."""

    week: int
    words: str
    is_jump: bool = False
    share: float = field(default=0.0, compare=False)


@dataclass(frozen=True)
class LoadView:
    """Weeks across, kinds down. `caution`: sentences about jumps that are news; `rule`: the rule in force in words.

    times_came of times_held: in all of them, as far as the logs say.
    """

    times_came: int
    times_held: int
    weeks: tuple[tuple[int, str], ...]
    came: tuple[str, ...]
    rows: tuple[tuple[str, tuple[Cell, ...]], ...]
    caution: tuple[str, ...]
    rule: str


def load_percent() -> int:
    """The owner's figure, until there is one the default."""
    rule = LoadRule.objects.first()
    return rule.percent if rule else DEFAULT_PERCENT


def student_load(student: Student, term: Term | None, *, today: dt.date) -> LoadView | None:
    """A student's load in a term up to that day; None where no class of theirs was logged in it."""
    if term is None:
        return None
    came = Attendance.objects.in_force().filter(
        student=student, is_present__isnull=False, log__term=term, log__held_on__lte=today
    )
    held = [(term.week_number(on), is_present) for on, is_present in came.values_list("log__held_on", "is_present")]
    if not held:
        return None
    weeks = sorted({week for week, _present in held})
    by_week, percent = weekly_load(_done(student, term, today), first_monday=term.first_monday), load_percent()
    found = jumps(by_week, class_weeks=weeks, percent=percent)
    last = term.week_number(min(today, term.ends_on))
    mondays = [term.first_monday + dt.timedelta(weeks=week - 1) for week in weeks]
    return LoadView(
        times_came=sum(present for _week, present in held), times_held=len(held),
        weeks=tuple((week, date_format(on, "MONTH_DAY_FORMAT")) for week, on in zip(weeks, mondays, strict=True)),
        came=tuple(_came_words([present for at, present in held if at == week]) for week in weeks),
        rows=_rows(by_week, weeks, found),
        caution=tuple(_jump_words(jump, term) for jump in found if jump.week > last - NEWS_WEEKS),
        rule=_("More than %(n)s per cent above the three class weeks before: the studio’s own rule.") % {"n": percent},
    )


def load_lines(view: LoadView | None, *, weeks: int = 6) -> tuple[str, ...]:
    """The last weeks in a line for each kind: "Rises on two feet, weeks 7 to 12: 32, 24, 0, 32, 32, 16"."""
    if view is None:
        return ()
    shown = [week for week, _day in view.weeks][-weeks:]
    about = {"first": shown[0], "last": shown[-1]}
    one, more = _("%(kind)s, week %(first)s: %(counts)s"), _("%(kind)s, weeks %(first)s to %(last)s: %(counts)s")
    return tuple(
        (one if len(shown) == 1 else more) % {
            "kind": capfirst(words), "counts": ", ".join(cell.words for cell in cells[-weeks:]), **about,
        }
        for words, cells in view.rows
    )


def _done(student: Student, term: Term, today: dt.date) -> list[Done]:
    rows = LogEntry.objects.in_force().filter(
        student=student, is_withdrawn=False, log__term=term, log__held_on__lte=today
    ).exclude(version__counts_as="")
    return [
        Done(on, kind, Dose(sets, reps).repetitions)
        for on, kind, sets, reps in rows.values_list("log__held_on", "version__counts_as", "sets", "reps")
    ]


def _came_words(present: list[bool]) -> str:
    return _("%(came)s of %(held)s") % {"came": sum(present), "held": len(present)}


def _rows(by_week, weeks: list[int], found: list[Jump]) -> tuple[tuple[str, tuple[Cell, ...]], ...]:
    jumped = {(jump.kind, jump.week) for jump in found}

    def cells(kind: str) -> tuple[Cell, ...]:
        done = [by_week.get(week, {}).get(kind, 0) for week in weeks]
        most = max(done, default=0) or 1
        return tuple(
            Cell(week, write_number(count), (kind, week) in jumped, count / most)
            for week, count in zip(weeks, done, strict=True)
        )

    return tuple(
        (kind_words(kind), cells(kind))
        for kind, _words in ExerciseVersion.LOADS if kind and any(kind in kinds for kinds in by_week.values())
    )


def kind_words(kind: str) -> str:
    return {
        ExerciseVersion.TWO_FEET: _("rises on two feet"), ExerciseVersion.ONE_FOOT: _("rises on one foot, each foot"),
        ExerciseVersion.JUMPS: _("small jumps"),
    }[kind]


def _jump_words(jump: Jump, term: Term) -> str:
    on = term.first_monday + dt.timedelta(weeks=jump.week - 1)
    week = voice_for(term).week(on)
    return _("%(week)s: %(count)s %(kind)s, against about %(before)s a week before.") % {
        "week": capfirst(week), "count": write_number(jump.repetitions), "kind": kind_words(jump.kind),
        "before": write_number(jump.before),
    }


def came_to_classes(
    student: Student, class_group: ClassGroup | int, *, since: dt.date, until: dt.date
) -> tuple[int, int]:
    """(how often the student came, how many of this class's logs say so or not)."""
    rows = Attendance.objects.in_force().filter(
        student=student, log__class_group=class_group, log__held_on__gte=since, log__held_on__lte=until,
        is_present__isnull=False,
    ).values_list("is_present", flat=True)
    return sum(rows), len(rows)
