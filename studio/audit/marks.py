"""What a request turned out to be about, noted by the loaders that authorised it; writes nothing."""
from collections.abc import Iterable
from dataclasses import dataclass, field

from django.http import HttpRequest

# What fits the column; an address may hold any number.
LARGEST_KEY = 2**63 - 1


@dataclass
class Marks:
    """`person`: (role, key) where it is not the user who is logged in; `outcome`: where the status does not say it."""

    students: set[int] = field(default_factory=set)
    classes: set[int] = field(default_factory=set)
    person: tuple[str, int | None] | None = None
    outcome: str = ""


def marks_of(request: HttpRequest) -> Marks:
    if not hasattr(request, "audit_marks"):
        request.audit_marks = Marks()
    return request.audit_marks


def mark_students(request: HttpRequest, keys: Iterable[int]) -> None:
    marks_of(request).students.update(key for key in keys if 0 < key <= LARGEST_KEY)


def mark_class(request: HttpRequest, key: int) -> None:
    if 0 < key <= LARGEST_KEY:
        marks_of(request).classes.add(key)


def mark_person(request: HttpRequest, role: str, key: int | None) -> None:
    """For people who are not logged in: a guardian by a link, or the person whose password somebody tried."""
    marks_of(request).person = (role, key)


def mark_outcome(request: HttpRequest, outcome: str) -> None:
    marks_of(request).outcome = outcome
