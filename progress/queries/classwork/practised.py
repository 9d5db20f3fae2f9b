"""Reads what a student practised in a term out of the class logs, as a paper says it; prints nothing."""
import datetime as dt
from collections import Counter

from django.utils.translation import ngettext

from progress.models import LogEntry
from progress.queries.classwork.load import load_lines, student_load
from progress.words.speech import names_in_a_row
from studio.models import Student, Term

# So many exercises are named, the most practised first; how many more there were is said. Half a column of A4.
EXERCISES_NAMED = 6
WEEKS_OF_LOAD = 6


def practised_lines(student: Student, term: Term, *, as_of: dt.date) -> tuple[str, ...]:
    """ "20 of 22 classes.", "Slow rises (18 times) and short foot (9 times).", and the load of the last weeks."""
    load = student_load(student, term, today=as_of)
    lines = []
    if load is not None:
        lines.append(ngettext("%(came)s of %(held)s class.", "%(came)s of %(held)s classes.", load.times_held) % {
            "came": load.times_came, "held": load.times_held})
    lines += filter(None, [_exercises(student, term, as_of)])
    return (*lines, *(f"{line}." for line in load_lines(load, weeks=WEEKS_OF_LOAD)))


def _exercises(student: Student, term: Term, as_of: dt.date) -> str:
    """Exercises the student did at least once, each with the number of classes."""
    rows = list(
        LogEntry.objects.in_force()
        .filter(student=student, is_withdrawn=False, sets__gt=0,
                log__held_on__gte=term.starts_on, log__held_on__lte=as_of)
        .select_related("version").order_by("log__held_on", "pk")
    )
    if not rows:
        return ""
    done = Counter(row.exercise_id for row in rows)
    names = {row.exercise_id: str(row.version) for row in rows}
    ordered = sorted(done, key=lambda pk: (-done[pk], names[pk]))
    shown, more = ordered[:EXERCISES_NAMED], len(ordered) - EXERCISES_NAMED
    if len(shown) > 1 and more <= 0 and len({done[pk] for pk in shown}) == 1:
        return ngettext("%(exercises)s (%(n)s time each).", "%(exercises)s (%(n)s times each).", done[shown[0]]) % {
            "exercises": names_in_a_row([names[pk] for pk in shown]), "n": done[shown[0]]}
    named = [
        ngettext("%(exercise)s (%(n)s time)", "%(exercise)s (%(n)s times)", done[pk]) % {
            "exercise": names[pk], "n": done[pk]}
        for pk in shown
    ]
    if more > 0:
        named.append(ngettext("%(n)s more", "%(n)s more", more) % {"n": more})
    return f"{names_in_a_row(named)}."
