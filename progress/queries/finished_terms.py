"""Reads what was judged in a term: as kept when it ended, else as it stands, where that is of the term."""
import datetime as dt
from collections.abc import Collection

from django.utils import timezone

from progress.models import ClassStanding, Standing, TermClassStanding, TermStanding
from studio.models import Student, Term


def is_over(term: Term | None, *, now: dt.datetime) -> bool:
    return term is not None and term.ends_on < timezone.localdate(now)


def kept_standings(student: Student, term: Term | None, *, now: dt.datetime) -> list[TermStanding]:
    """A student's standings of a term that is over, the latest judged first; none while it runs."""
    if not is_over(term, now=now):
        return []
    return list(TermStanding.objects.filter(student=student, term=term).order_by("-as_of", "pk"))


def standings_in(term: Term, students: Collection[int], *, until: dt.date) -> list[Standing | TermStanding]:
    """The standings of these students in a term up to a day; of each either what was kept or what stands."""
    kept = list(TermStanding.objects.filter(term=term, student__in=students).order_by("measure__position", "side"))
    has_kept = {row.student_id for row in kept}
    live = Standing.objects.filter(student__in=students, as_of__gte=term.starts_on, as_of__lte=until)
    return [*kept, *(row for row in live.order_by("measure__position", "side") if row.student_id not in has_kept)]


def stalls_in(term: Term, *, until: dt.date) -> dict[int, list]:
    """Class to what it shared in the term, as written by `line_record.write_stall`."""
    live = ClassStanding.objects.filter(as_of__gte=term.starts_on, as_of__lte=until)
    kept = TermClassStanding.objects.filter(term=term)
    return {row.class_group_id: row.stalls for rows in (live, kept) for row in rows}
