"""Judges once what several taps changed: the classes of those whose results came together, at the end of them all."""
import datetime as dt
from collections.abc import Callable, Collection, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from typing import Any

from django.db import transaction

from progress.actions.standings import judging_classes, lock_judgement, refresh_standings
from studio.models import ClassGroup, Student


@dataclass
class _Together:
    """Whose results come in one post, in which classes, and the first day of those that came so far."""

    students: frozenset[int]
    classes: frozenset[int]
    since: dt.date | None = None
    read: dict[str, Any] = field(default_factory=dict)


_come: ContextVar[_Together | None] = ContextVar("results that come together", default=None)


@contextmanager
def judged_after(student: Student | None, class_group: ClassGroup, *, since: dt.date) -> Iterator[None]:
    """Within it results of the student are written; then the classes are judged in which the student was judged before
    or is now, or later together with others where they came together. To be called in the transaction of the results.

    since: the first day whose results change. student: None where no result changes.
    """
    if student is None:
        yield
        return
    together = _come.get()
    if _is_expected(student, class_group):
        yield
        together.since = min(since, together.since or since)
        return
    before = judging_classes([student.pk])
    yield
    refresh_standings(class_ids=before | judging_classes([student.pk]), since=since)


def lock(student: Student, class_group: ClassGroup) -> None:
    """Keeps others from writing about the student, or judging a class that the student may be judged in, meanwhile."""
    if not _is_expected(student, class_group):
        lock_judgement(student_ids=[student.pk], class_ids=[class_group.pk])


def _is_expected(student: Student, class_group: ClassGroup) -> bool:
    """Whether results of this student in this class come together with others: then all are locked already."""
    together = _come.get()
    return together is not None and student.pk in together.students and class_group.pk in together.classes


def read_of(student: Student, class_group: ClassGroup, name: str, read: Callable[[Collection[int]], Any]) -> Any:
    """What `read` finds of the student once locked: of everybody at once, under this name, where results come together.
    Only for what no result changes and nobody else while students are locked."""
    if not _is_expected(student, class_group):
        return read([student.pk])
    together = _come.get()
    if name not in together.read:
        together.read[name] = read(together.students)
    return together.read[name]


@contextmanager
def results_together(*, student_ids: Collection[int], class_ids: Collection[int]) -> Iterator[None]:
    """Within it results of these students in these classes are written, each in a transaction within this one, and
    judged once at its end. Where that fails nothing of it all is stored."""
    with transaction.atomic():
        lock_judgement(student_ids=student_ids, class_ids=class_ids)
        before = judging_classes(student_ids)
        together = _Together(frozenset(student_ids), frozenset(class_ids))
        token = _come.set(together)
        try:
            yield
        finally:
            _come.reset(token)
        # Asked in any case: a database that gave up in between says so here, and not by forgetting what it took.
        after = judging_classes(student_ids)
        if together.since is not None:
            refresh_standings(class_ids=before | after, since=together.since)
