"""Reads the way in to the barre: today's classes by the clock, then other classes with a screening that is open.

Each class has one big next step, with what is left in it, and smaller ways beside it.
"""
import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field

from django.urls import reverse
from django.utils.translation import gettext as _

from progress.queries.resting import left_out
from progress.queries.to_go import Left, to_go, to_go_words, who_is_left
from progress.queries.today import TodayRow, today_rows
from screening.models import Measure, Result, Screening
from studio.models import ClassGroup, Student, User
from studio.permissions import reachable_classes
from studio.queries import ClassToday, barre_order, classes_of_day, groups_of, term_on


@dataclass(frozen=True)
class Way:
    """Somewhere to go from here: what it says, what stands beside or under it, and the address."""

    words: str
    beside: str
    address: str
    is_kept: bool = True


@dataclass
class OpenDay:
    """An open screening with the measures that have a sheet; `left`: measure -> who has something left in it.

    ways: the smaller ways into it; kept: addresses that open without network though no way on this page leads there.
    """

    screening: Screening
    measures: list[Measure]
    students: list[Student] = field(default_factory=list)
    left: Left = field(default_factory=dict)
    begun: set[int] = field(default_factory=set)
    ways: list[Way] = field(default_factory=list)
    kept: list[str] = field(default_factory=list)

    def next_measure(self) -> Measure | None:
        """The first measure of the day in which anybody has something left."""
        return next((each for each in self.measures if self.left[each.pk]), None)

    def address(self, measure: Measure, room: str = "sheet") -> str:
        return reverse(f"progress:{room}", args=[self.screening.pk, measure.key])


@dataclass
class ClassAtTheBarre:
    """A class with its open screenings, the newest first; `today` where it meets today. go: its big next step."""

    class_group: ClassGroup
    today: ClassToday | None = None
    days: list[OpenDay] = field(default_factory=list)
    go: Way | None = None
    ways: list[Way] = field(default_factory=list)


def classes_at_the_barre(user: User, today: dt.date) -> list[ClassAtTheBarre]:
    groups = reachable_classes(user)
    found = {
        row.class_group.pk: ClassAtTheBarre(row.class_group, row)
        for row in classes_of_day(groups, term_on(today), today)
    }
    opened = Screening.objects.filter(class_group__in=groups, closed_at__isnull=True).order_by("-held_on", "-pk")
    for screening in opened.select_related("class_group", "term").prefetch_related("battery__entries__measure"):
        row = found.setdefault(screening.class_group_id, ClassAtTheBarre(screening.class_group))
        entries = screening.battery.entries.all() if screening.battery else ()
        row.days.append(OpenDay(screening, [entry.measure for entry in entries]))
    return list(found.values())


def say_next_steps(classes: Sequence[ClassAtTheBarre], today: dt.date, *, now: dt.datetime) -> None:
    """Lays out each class's ways: into its open screenings by what is left in them, else by what is due today."""
    days = [day for row in classes for day in row.days]
    _read_what_is_left(days, now=now)
    idle = [row.today for row in classes if row.today and not row.days]
    rows = today_rows(idle, term_on(today), today, now=now) if idle else []
    steps = {row.class_group.pk: row for row in rows}
    for row in classes:
        log = Way(_("Log the class"), "", reverse("progress:class-log", args=[row.class_group.pk]))
        if not row.days:
            row.go, row.ways = _without_screening(row.class_group, steps.get(row.class_group.pk), log)
            continue
        first = next((day for day in row.days if who_is_left(day.left)), row.days[0])
        row.go = _go_on(first)
        for day in row.days:
            day.ways, day.kept = _ways_into(day, is_next=day is first)
        row.days[-1].ways.append(log)


def _read_what_is_left(days: Sequence[OpenDay], *, now: dt.datetime) -> None:
    for day in days:
        opened = day.screening
        day.students = [row.student for row in barre_order(opened.class_group, opened.term, opened.held_on)]
    students = {day.screening.class_group_id: day.students for day in days}
    off = left_out({student.pk for day in days for student in day.students}, now=now)
    opened = [day.screening for day in days]
    left = to_go(opened, students, off, now=now)
    begun = set(Result.objects.filter(screening__in=opened).values_list("screening_id", "measure_id").distinct())
    for day in days:
        day.left = left[day.screening.pk]
        day.begun = {measure_id for screening_id, measure_id in begun if screening_id == day.screening.pk}


def _go_on(day: OpenDay) -> Way:
    """Where the class was left: the first measure with anybody to go, and the first group of its run with one."""
    measure = day.next_measure()
    if measure is None:
        words = _("Nobody left to measure. Close the screening?") if day.measures else _("Go on with the screening")
        return Way(words, "", reverse("progress:screening", args=[day.screening.pk]))
    left = day.left[measure.pk]
    told = {"measure": _(measure.short_name), "group": _group_to_go(day, left) if measure.is_runnable else 0}
    if told["group"]:
        words = _("Go on: %(measure)s, group %(group)s") if measure.pk in day.begun else _(
            "Start: %(measure)s, group %(group)s"
        )
    else:
        words = _("Go on: %(measure)s") if measure.pk in day.begun else _("Start: %(measure)s")
    room = "run" if measure.is_runnable else "sheet"
    return Way(words % told, to_go_words(len(left)), day.address(measure, room))


def _group_to_go(day: OpenDay, left: set[int]) -> int:
    """The number of the first group at the barre with anybody to go; 0 where all stand in one."""
    lengths = groups_of(len(day.students), day.screening.class_group.group_size)
    if len(lengths) < 2:  # noqa: PLR2004
        return 0
    groups = [number for number, length in enumerate(lengths, start=1) for _place in range(length)]
    return next(group for group, student in zip(groups, day.students, strict=True) if student.pk in left)


def _ways_into(day: OpenDay, *, is_next: bool) -> tuple[list[Way], list[str]]:
    big = day.next_measure() if is_next else None
    ways, kept = [], []
    for measure in day.measures:
        if measure == big:
            continue
        room = "run" if measure.is_runnable else "sheet"
        ways.append(Way(str(measure), to_go_words(len(day.left[measure.pk])), day.address(measure, room)))
        if measure.is_runnable:
            kept.append(day.address(measure))
    if big and big.is_runnable:
        ways.append(Way(_("By hand"), _("no clock"), day.address(big)))
    if big or not is_next:
        ways.append(Way(_("Who is missing"), _("and close"), reverse("progress:screening", args=[day.screening.pk])))
    return ways, kept


def _without_screening(group: ClassGroup, step: TodayRow | None, log: Way) -> tuple[Way, list[Way]]:
    """Its next step, and what else there is: measure again, open the screening that is due, or log the class."""
    opening = reverse("progress:open-screening", args=[group.pk])
    if step is None or step.step not in ("again", "open"):
        return log, [Way(_("Open a screening"), "", opening, is_kept=False)]
    if step.step == "open":
        return Way(_("Open a screening"), "", opening, is_kept=False), [log]
    words = _("%(measure)s once more") % {"measure": step.measure} if step.measure else _("Measure again")
    return Way(words, step.names, opening, is_kept=False), [log]
