"""Reads who might go up or down a step of a ladder: the rule prompts from the log, the teacher moves them."""
import datetime as dt
from collections import defaultdict
from dataclasses import dataclass, field

from django.utils.translation import gettext as _

from progress.models import ExerciseVersion, LadderStep, LogEntry, PainReport
from progress.queries.classwork.exercises import dose_words, ladders
from progress.queries.classwork.held import no_more_load
from progress.queries.classwork.programme import Planned
from progress.rules import ladder
from progress.words.speech import voice_for
from studio.family.queries import consented, withheld
from studio.models import ClassGroup, Consent, Student, Term


@dataclass
class StepPrompt:
    """One step to another, why, and for whom the rule prompts it. `to` is None where it only asks to look.

    held: who would go up and is given no more load for now, with what the student may do.
    """

    at: LadderStep
    to: LadderStep | None
    move: str
    reason: str
    from_words: str
    to_words: str
    students: list[Student]
    held: list[tuple[Student, str]] = field(default_factory=list)

    @property
    def asks(self) -> str:
        """What the rule asks of the teacher, before the step's own words."""
        return {ladder.UP: _("Harder?"), ladder.DOWN: _("Easier?"), ladder.STAY: _("Look at it:")}[self.move]

    @property
    def moves(self) -> str:
        """The button's words; nobody moves where the rule only asks to look."""
        return {ladder.UP: _("Move them up"), ladder.DOWN: _("Move them down")}.get(self.move, "")


def step_prompts(
    class_group: ClassGroup, term: Term, students: list[Student], planned: list[Planned],
    versions: dict[int, ExerciseVersion], *, today: dt.date, now: dt.datetime,
) -> list[StepPrompt]:
    """Every prompt of the class, down before up; a fixed number of queries. Nobody who rests or has pain that is open
    or lately told goes up: the prompt says what the student may do."""
    above, below = _neighbours()
    held = no_more_load([student.pk for student in students], on=today, now=now)
    on_step = {
        (student.pk, entry.step_id): student
        for each in planned for student in students
        if (entry := each.entry_of(student.pk)) is not None and entry.step_id is not None
    }
    turns = _turns(class_group, term, on_step, now=now)
    found: dict[tuple, StepPrompt] = {}
    for (student_id, step_id), student in on_step.items():
        at, lower, higher = above[step_id][0], below.get(step_id), above[step_id][1]
        prompt = ladder.prompt(turns[student_id, step_id], is_lowest=lower is None, is_highest=higher is None)
        if not prompt.because:
            continue
        to = {ladder.UP: higher, ladder.DOWN: lower, ladder.STAY: None}[prompt.move]
        words = _step_words(at, versions), _step_words(to, versions, after=at) if to else ""
        key = (step_id, prompt.move, prompt.because)
        row = StepPrompt(at, to, prompt.move, ladder.why(prompt, voice=voice_for(None)), *words, [])
        prompted = found.setdefault(key, row)
        if student_id in held and prompt.move == ladder.UP:
            prompted.held.append((student, held[student_id].may))
        elif student_id not in held or not held[student_id].is_resting:
            prompted.students.append(student)
    order = {ladder.DOWN: 0, ladder.STAY: 1, ladder.UP: 2}
    asked = [each for each in found.values() if each.students or each.held]
    return sorted(asked, key=lambda each: (order[each.move], each.at.ladder_id, each.at.position))


def _step_words(step: LadderStep, versions: dict[int, ExerciseVersion], after: LadderStep | None = None) -> str:
    """The exercise and its dose; after a step of the same exercise the dose alone."""
    version = versions[step.exercise_id]
    words = [] if after is not None and after.exercise_id == step.exercise_id else [str(version)]
    words.append(dose_words(step.dose, version))
    if step.note and (after is None or after.note != step.note):
        words.append(step.note)
    return ", ".join(words)


def _neighbours() -> tuple[dict[int, tuple[LadderStep, LadderStep | None]], dict[int, LadderStep]]:
    """(step id -> the step and the one above it, step id -> the one below it)."""
    above, below = {}, {}
    for each in ladders():
        for rung, higher in zip(each.rungs, [*each.rungs[1:], None], strict=True):
            above[rung.pk] = (rung, higher)
            if higher is not None:
                below[higher.pk] = rung
    return above, below


def _turns(
    class_group: ClassGroup, term: Term, on_step: dict, *, now: dt.datetime
) -> dict[tuple[int, int], list[ladder.Turn]]:
    """(student, step) -> the student's turns at that step in this term, oldest first; one left out is none."""
    told = consented({pk for pk, _step in on_step}, Consent.PAIN, now)
    hurt: set[tuple[int, dt.date]] = set(
        PainReport.objects.meant().filter(student__in=told)
        .values_list("student_id", "reported_on")
    )
    rows = LogEntry.objects.in_force().filter(
        log__class_group=class_group, log__term=term, step__isnull=False, is_withdrawn=False, sets__gt=0
    ).exclude(student__in=withheld(Consent.MEASUREMENTS, now))
    found: dict[tuple[int, int], list[ladder.Turn]] = defaultdict(list)
    for row in rows.select_related("log", "version").order_by("log__held_on", "pk"):
        on = row.log.held_on
        found[row.student_id, row.step_id].append(ladder.Turn(
            on, row.dose.covers(row.planned), row.control,
            hurt=row.version.loads_foot and (row.student_id, on) in hurt,
        ))
    return found
