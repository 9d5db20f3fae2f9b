"""Keeps what was judged on the last day of a term, the moment before something newer takes its place."""
import datetime as dt
from collections.abc import Iterable, Sequence

from django.db import transaction

from progress.judging import judgement
from progress.judging.line_record import write_line, write_stall
from progress.models import ClassStanding, Standing, TermClassStanding, TermStanding
from progress.queries.judged import judge_facts, measure_facts
from progress.queries.learned import learned_values
from screening.models import Measure, Result
from screening.queries import judged_measures
from studio.models import ClassGroup, Student, Term


def keep_finished_terms(*, facts: Sequence[judgement.ResultFact], before: dt.date) -> None:
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
            _judge_as_it_ended(term, lacking - _keep_what_stands(term, lacking))


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
    facts, _targets = judge_facts(list(Student.objects.filter(results__isnull=False).distinct()), judged_measures())
    keep_finished_terms(facts=facts, before=today)


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


def _judge_as_it_ended(term: Term, students: set[int]) -> None:
    """Judges the classes of these students by what was known when the term ended."""
    if not students:
        return
    measured_in = _classes_of(term)
    measures = judged_measures()
    by_key, learned = {measure.key: measure for measure in measures}, learned_values()
    facts_of = {measure.key: measure_facts(measure, learned) for measure in measures}
    for class_id in sorted({measured_in[pk] for pk in students if pk in measured_in}):
        together = [pk for pk, judged_in in measured_in.items() if judged_in == class_id]
        facts, targets = judge_facts(list(Student.objects.filter(pk__in=together)), measures)
        known = [fact for fact in facts if fact.on <= term.ends_on]
        in_term = [fact.on for fact in known if fact.on >= term.starts_on]
        if not in_term:
            continue
        judged = judgement.judge_class(known, measures=facts_of, targets=targets, as_of=max(in_term))
        rows = _rows(judged, by_key, term, class_id)
        TermStanding.objects.bulk_create([r for r in rows if r.student_id in students], ignore_conflicts=True)
        _keep_classes([TermClassStanding(
            term=term, class_group_id=class_id, as_of=judged.as_of, stalls=[write_stall(s) for s in judged.class_stalls]
        )])


def _classes_of(term: Term) -> dict[int, int]:
    """Student to the class of the latest result of the term."""
    rows = Result.objects.standing().filter(
        value__isnull=False, taken_on__gte=term.starts_on, taken_on__lte=term.ends_on
    ).order_by("taken_on", "pk")
    return dict(rows.values_list("student_id", "screening__class_group_id"))


def _rows(
    judged: judgement.ClassJudgement, by_key: dict[str, Measure], term: Term, class_id: int
) -> list[TermStanding]:
    again = set(judged.measure_again)
    return [
        TermStanding(
            term=term, student_id=key[0], measure=by_key[key[1]], side=key[2], class_group_id=class_id,
            as_of=judged.as_of, verdict=line.verdict, measure_again=key in again, line=write_line(line),
        )
        for key, line in judged.lines.items()
    ]


def _keep_classes(rows: Iterable[TermClassStanding]) -> None:
    TermClassStanding.objects.bulk_create(rows, ignore_conflicts=True)
