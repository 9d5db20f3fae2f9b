"""Reads what a student works on in class, as the student's page shows it: programme, steps, load."""
import datetime as dt
from dataclasses import dataclass

from progress.models import ExerciseVersion
from progress.queries.classwork.exercises import dose_words, versions_by_exercise
from progress.queries.classwork.load import LoadView, student_load
from progress.queries.classwork.programme import entry_words, planned_exercises
from progress.queries.classwork.steps import StepPrompt, step_prompts
from studio.models import ClassGroup, Student, Term


@dataclass(frozen=True)
class Work:
    """One exercise. `differs`: the student's alone, or not as the class does it; `is_spared`: left out by plan."""

    version: ExerciseVersion
    dose: str
    differs: bool
    is_spared: bool


@dataclass(frozen=True)
class StudentWork:
    work: tuple[Work, ...]
    prompts: tuple[StepPrompt, ...]
    # What the student may do, where no more load is offered for now.
    held: str
    load: LoadView | None


def student_work(
    student: Student, class_group: ClassGroup | None, term: Term | None, *, today: dt.date, now: dt.datetime
) -> StudentWork:
    load = student_load(student, term, today=today)
    if class_group is None or term is None:
        return StudentWork((), (), "", load)
    versions = versions_by_exercise()
    planned = planned_exercises(class_group, term, [student], versions)
    work = []
    for each in planned:
        entry = each.own.get(student.pk, each.entry)
        words = entry_words(entry, each.version) if entry.is_spared or entry.note else dose_words(
            entry.dose, each.version
        )
        work.append(Work(each.version, words, student.pk in each.own, entry.is_spared))
    prompts = step_prompts(class_group, term, [student], planned, versions, today=today, now=now) if planned else []
    held = next((may for prompt in prompts for _student, may in prompt.held), "")
    return StudentWork(tuple(work), tuple(each for each in prompts if each.students), held, load)
