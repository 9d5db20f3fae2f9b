"""Reads what a class's sheet suggests for its programme, and why; and who trains together."""
import datetime as dt
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.text import capfirst
from django.utils.translation import gettext as _

from progress.judging.line_record import read_line, read_stall
from progress.models import ClassStanding, ExerciseVersion, LadderStep, Standing
from progress.queries.classwork.exercises import dose_words, ladders
from progress.queries.classwork.held import no_more_load
from progress.queries.classwork.programme import Planned
from progress.rules import suggestions
from progress.rules.suggestions import Need
from progress.words.speech import names_in_a_row, voice_for
from screening.models import Measure, Result
from studio.family.queries import consented
from studio.models import ClassGroup, Consent, Student, Term


@dataclass(frozen=True)
class Suggested:
    """An exercise with the dose to begin with, the reason in words, and for whom; no student is the class."""

    version: ExerciseVersion
    dose: str
    step: LadderStep | None
    reason: str
    student: Student | None = None
    name: str = ""


@dataclass(frozen=True)
class Group:
    """Who trains together: on what, in words that judge nobody, and why, for the teacher; with which exercise."""

    topic: str
    reason: str
    names: str
    exercise: str


class ClassNeeds:
    """What the class and its students need now, read once; a fixed number of queries."""

    def __init__(self, class_group: ClassGroup, term: Term, names: dict[int, str], *, today: dt.date, now: dt.datetime):
        self.names = names
        self.seen, stalled = _seen(class_group, term, list(names), now=now)
        # Nobody with pain that is open or lately told is offered more work, or put into a group.
        self.held = no_more_load(names, on=today, now=now)
        self.shared = suggestions.shared_needs(self.seen, stalled=stalled)
        self._measures = {m.key: _(m.short_name) for m in Measure.objects.all()}
        self._voice = voice_for(None)

    def why(self, need: Need) -> str:
        return suggestions.why(need, voice=self._voice, names=self._measures, faults=_faults(need))

    def groups(self, versions: dict[int, ExerciseVersion]) -> list[Group]:
        found, offers = [], offers_of(versions)
        for need in suggestions.groups(self.shared, resting=self.held):
            topic = suggestions.topic(need, names=self._measures, faults=_faults(need))
            names = names_in_a_row([self.names[pk] for pk in need.students])
            fitting = suggestions.suggestions([need], offers, most=1)
            exercise = str(versions[fitting[0].exercise]) if fitting else ""
            found.append(Group(capfirst(topic), self.why(need), names, exercise))
        return found

    def of_class(self) -> list[Need]:
        return [need for need in self.shared if suggestions.is_of_class(need)]

    def of_student(self, student_id: int) -> list[Need]:
        """A student's needs that ask for work of their own, without what the class works on as a whole."""
        whole = self.of_class()
        same = {(need.kind, need.measure, need.detail) for need in whole}
        stalled = {need.measure for need in whole if need.kind in (suggestions.STALL, suggestions.NO_GAIN)}
        return [
            need for need in suggestions.student_needs(self.seen_of(student_id))
            if need.kind in suggestions.HER_OWN and (need.kind, need.measure, need.detail) not in same
            and not (need.kind == suggestions.NO_GAIN and need.measure in stalled)
        ]

    def seen_of(self, student_id: int) -> list[suggestions.Seen]:
        return [each for each in self.seen if each.student == student_id]


def _faults(need: Need) -> dict[str, str]:
    return {need.detail: _(need.detail)} if need.detail else {}


def offers_of(versions: dict[int, ExerciseVersion]) -> list[suggestions.Offer]:
    return [
        suggestions.Offer(pk, [tuple(pair) for pair in v.serves], v.each_foot)
        for pk, v in versions.items() if v.exercise.is_offered
    ]


def suggested(
    needs: ClassNeeds, students: Sequence[Student], planned: list[Planned], versions: dict[int, ExerciseVersion]
) -> tuple[list[Suggested], list[Suggested]]:
    """(for the class, for single students): what is not planned yet and answers a need. Who is held gets nothing."""
    offers = offers_of(versions)
    first_steps = {rung.exercise_id: rung for ladder in ladders() for rung in reversed(ladder.rungs)}

    def made(found: suggestions.Suggestion, student: Student | None = None) -> Suggested:
        version, step = versions[found.exercise], first_steps.get(found.exercise)
        dose = dose_words(step.dose if step else version.dose, version)
        name = needs.names[student.pk] if student else ""
        return Suggested(version, dose, step, needs.why(found.need), student, name)

    in_class = {each.version.exercise_id for each in planned if each.entry}
    for_class = suggestions.suggestions(
        needs.of_class(), offers, planned=in_class, most=suggestions.MOST_FOR_CLASS,
        seen_faults=_faults_by_measure(needs.seen),
    )
    for_students = []
    for student in students:
        if student.pk not in needs.held:
            own = {each.version.exercise_id for each in planned if student.pk in each.own}
            found = suggestions.suggestions(
                needs.of_student(student.pk), offers, planned=in_class | own, a_need=1,
                most=suggestions.MOST_FOR_STUDENT,
                seen_faults=_faults_by_measure(needs.seen_of(student.pk)),
            )
            for_students += [made(each, student) for each in found]
    return [made(each) for each in for_class], for_students


def _faults_by_measure(seen: list[suggestions.Seen]) -> dict[str, set[str]]:
    found: dict[str, set[str]] = defaultdict(set)
    for each in seen:
        found[each.measure].update(each.faults)
    return found


def _seen(
    class_group: ClassGroup, term: Term, students: list[int], *, now: dt.datetime
) -> tuple[list[suggestions.Seen], dict[str, list[int]]]:
    """(what is known of each student and measure, members of class-wide stalls by measure)."""
    students = sorted(consented(students, Consent.MEASUREMENTS, now))
    no_gain, behind, faults = defaultdict(list), {}, defaultdict(lambda: defaultdict(int))
    for row in Standing.objects.filter(student__in=students).select_related("measure").order_by("measure__position"):
        line, at = read_line(row.line), (row.student_id, row.measure.key)
        no_gain[at] += [row.side] if row.verdict in ("stalled", "slipping", "dropped") else []
        if line.gap is not None and line.gap.is_apart:
            behind[at] = "L" if line.gap.right_minus_left > 0 else "R"
    rows = Result.objects.in_force().filter(
        student__in=students, taken_on__gte=term.starts_on, taken_on__lte=term.ends_on
    ).exclude(fault="")
    for student_id, key, fault in rows.values_list("student_id", "measure__key", "fault"):
        no_gain[student_id, key] += []
        faults[student_id, key][fault] += 1
    seen = [
        suggestions.Seen(at[0], at[1], tuple(sides), behind.get(at, ""), dict(faults[at]))
        for at, sides in no_gain.items()
    ]
    standing = ClassStanding.objects.filter(class_group=class_group).first()
    stalls = [read_stall(each) for each in standing.stalls] if standing else []
    stalled = {
        key: [pk for pk in stall.members if pk in set(students)]
        for stall in stalls for key in ([stall.measure] if stall.measure else {at[1] for at in no_gain})
    }
    return seen, stalled
