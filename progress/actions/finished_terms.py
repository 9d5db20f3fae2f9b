"""Keeps what was judged on the last day of a term, the moment before something newer takes its place."""
import datetime as dt
from collections.abc import Iterable, Sequence

from django.db import transaction

from progress.actions.carrying import Judging
from progress.judging import judgement
from progress.judging.line_record import write_line, write_stall
from progress.models import ClassStanding, Standing, TermClassStanding, TermStanding
from progress.queries.judged import judge_facts, last_seen
from screening.models import Measure, Result
from studio.models import ClassGroup, Student, Term


def keep_finished_terms(*, judging: Judging, facts: Sequence[judgement.ResultFact], before: dt.date) -> None:
    """Keeps the standings of the students of these facts in every term that ended before that day.

    What is kept already stays as it is, whatever came to be known since. To be called before standings are written,
    in the same transaction; where the standings moved on before terms were kept, the term is judged as of its end.
    """
    terms = list(Term.objects.filter(ends_on__lt=before).order_by("ends_on"))
    measured = {
        (fact.student, term.pk) for term in terms for fact in facts if term.starts_on <= fact.on <= term.ends_on
    }
    if not measured:
        return
    students = {student for student, _term in measured}
    measured -= set(TermStanding.objects.filter(student__in=students).values_list("student_id", "term_id").distinct())
    for term in terms:
        lacking = {student for student, of in measured if of == term.pk}
        if lacking:
            _judge_as_it_ended(judging, term, lacking - _keep_what_stands(term, lacking))


def open_again_where_nothing_is_newer(*, class_group: ClassGroup, as_of: dt.date) -> None:
    """A result was put right in a term that is over and after which nothing was measured yet: it is judged with it."""
    of_the_term = {"class_group": class_group, "term__starts_on__lte": as_of, "term__ends_on__gte": as_of}
    TermStanding.objects.filter(**of_the_term).delete()
    TermClassStanding.objects.filter(**of_the_term).delete()


@transaction.atomic
def keep_every_finished_term(*, today: dt.date) -> None:
    """The same for the whole studio, for terms that ended before they were kept; nothing where each is."""
    over = Term.objects.filter(ends_on__lt=today).exclude(pk__in=TermClassStanding.objects.values("term"))
    if not any(Result.objects.filter(taken_on__gte=t.starts_on, taken_on__lte=t.ends_on).exists() for t in over):
        return
    judging = Judging()
    measured = Student.objects.filter(results__isnull=False).distinct().values_list("pk", flat=True)
    facts, _targets = judge_facts(list(measured), judging.measures)
    keep_finished_terms(judging=judging, facts=facts, before=today)


def _keep_what_stands(term: Term, students: set[int]) -> set[int]:
    """Copies the standings of that term; gives the students that have any."""
    within = {"as_of__gte": term.starts_on, "as_of__lte": term.ends_on}
    rows = list(Standing.objects.filter(student__in=students, **within))
    TermStanding.objects.bulk_create(
        [
            TermStanding(
                term=term, student_id=row.student_id, measure_id=row.measure_id, side=row.side,
                class_group_id=row.class_group_id, as_of=row.as_of, verdict=row.verdict,
                measure_again=row.measure_again, line=row.line,
            )
            for row in rows
        ],
        ignore_conflicts=True,
    )
    classes = ClassStanding.objects.filter(class_group__in={row.class_group_id for row in rows}, **within)
    _keep_classes(TermClassStanding(
        term=term, class_group_id=row.class_group_id, as_of=row.as_of, stalls=row.stalls) for row in classes)
    return {row.student_id for row in rows}


def _judge_as_it_ended(judging: Judging, term: Term, students: set[int]) -> None:
    """Judges the classes of these students by what was known when the term ended."""
    end = term.ends_on + dt.timedelta(days=1)
    by_key = {measure.key: measure for measure in judging.measures}
    for class_id in sorted(_classes_of(term, students)):
        known = judging.known(class_id, before=end)
        if not any(fact.on >= term.starts_on for fact in known.facts):
            continue
        judged = known.judged(known.as_of)
        rows = _rows(judged, by_key, term, class_id, judging)
        TermStanding.objects.bulk_create([r for r in rows if r.student_id in students], ignore_conflicts=True)
        _keep_classes([TermClassStanding(
            term=term, class_group_id=class_id, as_of=judged.as_of, stalls=[write_stall(s) for s in judged.class_stalls]
        )])


def _classes_of(term: Term, students: set[int]) -> set[int]:
    """The classes of these students' latest results of the term."""
    end = term.ends_on + dt.timedelta(days=1)
    return {each.class_id for each in last_seen(students, since=term.starts_on, before=end).values()}


def _rows(
    judged: judgement.ClassJudgement, by_key: dict[str, Measure], term: Term, class_id: int, judging: Judging
) -> list[TermStanding]:
    again, drawn_from = set(judged.measure_again), judging.reach.term_of(term.starts_on)
    return [
        TermStanding(
            term=term, student_id=key[0], measure=by_key[key[1]], side=key[2], class_group_id=class_id,
            as_of=judged.as_of, verdict=line.verdict, measure_again=key in again,
            line=write_line(line.drawn_from(drawn_from)),
        )
        for key, line in judged.lines.items()
    ]


def _keep_classes(rows: Iterable[TermClassStanding]) -> None:
    TermClassStanding.objects.bulk_create(rows, ignore_conflicts=True)
