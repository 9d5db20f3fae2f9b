"""Reads a class's programme: what is planned, for the class and for each student whose work differs."""
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from django.utils.translation import gettext as _

from progress.models import Exercise, ExerciseVersion, ProgrammeEntry
from progress.queries.classwork.exercises import dose_words, versions_by_exercise
from studio.models import ClassGroup, Student, Term


@dataclass(frozen=True)
class Planned:
    """One exercise of tonight's class: the class's entry, None where only some do it, and each student's own.

    own: student id -> that student's own entry, which may say that they are spared it.
    """

    version: ExerciseVersion
    entry: ProgrammeEntry | None
    own: dict[int, ProgrammeEntry]

    def entry_of(self, student_id: int) -> ProgrammeEntry | None:
        """What this student is to do; None where they are spared it."""
        entry = self.own.get(student_id, self.entry)
        return None if entry is None or entry.is_spared else entry


@dataclass(frozen=True)
class PlannedRow:
    """An exercise as the programme's page and the barre card show it. `differs`: (name, words, entry) of students."""

    planned: Planned
    dose: str
    differs: tuple[tuple[str, str, ProgrammeEntry], ...]


def planned_exercises(
    class_group: ClassGroup, term: Term | None, students: Iterable[Student],
    versions: dict[int, ExerciseVersion] | None = None, *, only: Exercise | None = None,
) -> list[Planned]:
    """The programme in its order: what the class does, then what only some of these students do.

    versions: those of the exercises, where they were read already; only: nothing but this one exercise.
    """
    versions = versions_by_exercise() if versions is None else versions
    here = {student.pk for student in students}
    of_class: dict[int, ProgrammeEntry] = {}
    own: dict[int, dict[int, ProgrammeEntry]] = defaultdict(dict)
    rows = ProgrammeEntry.objects.filter(class_group=class_group, term=term, left_out_at__isnull=True)
    for entry in rows.filter(exercise=only) if only is not None else rows:
        if entry.student_id is None:
            of_class[entry.exercise_id] = entry
        elif entry.student_id in here:
            own[entry.exercise_id][entry.student_id] = entry
    only_some = [pk for pk in own if pk not in of_class and not all(e.is_spared for e in own[pk].values())]
    return [Planned(versions[pk], of_class.get(pk), own.get(pk, {})) for pk in [*of_class, *only_some]]


def planned_rows(planned: Iterable[Planned], names: dict[int, str]) -> tuple[PlannedRow, ...]:
    return tuple(
        PlannedRow(
            each, dose_words(each.entry.dose, each.version) if each.entry else _("only for some"),
            tuple((names[pk], entry_words(entry, each.version), entry)
                  for pk, entry in sorted(each.own.items(), key=lambda row: names[row[0]])),
        )
        for each in planned
    )


def entry_words(entry: ProgrammeEntry, version: ExerciseVersion) -> str:
    words = _("without") if entry.is_spared else dose_words(entry.dose, version)
    return f"{words}, {entry.note}" if entry.note else words
