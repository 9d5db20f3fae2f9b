"""Reads a student's years: every measure over all terms, classes, protocols, pain and heights, as far as agreed."""
import datetime as dt
from collections import defaultdict
from dataclasses import dataclass
from itertools import pairwise

from django.utils.translation import gettext as _

from progress.drawing.years import Point, Row, TermSpan, Years
from progress.queries.growth import readings
from progress.queries.judged import counted
from progress.words.speech import side_word
from screening.models import Measure, Protocol, Result
from screening.queries import Score, scores
from screening.wording import write_value
from studio.family.queries import agreed_scopes
from studio.models import Consent, Student, Term
from studio.templatetags.wording import write_number


@dataclass(frozen=True)
class TermRow:
    """One term in words: its class, and a measure's first and last results of each side."""

    term: Term
    class_names: str
    cells: tuple[str, ...]


@dataclass(frozen=True)
class YearsView:
    """The picture, and the same in a table: `heads` over the cells of each term."""

    picture: Years
    heads: tuple[str, ...]
    rows: tuple[TermRow, ...]


def student_years(student: Student, *, now: dt.datetime) -> YearsView:
    """All terms in which the student was in a class, or was measured; what is not agreed is not there."""
    agreed = agreed_scopes(student, now)
    may_show = Consent.MEASUREMENTS in agreed
    measures = {m.pk: m for m in Measure.objects.all()}
    protocols = Protocol.objects.in_bulk()
    told = scores(counted(Result.objects.filter(student=student)), measures=list(measures.values())) if may_show else []
    told = sorted(told, key=lambda score: (score.on, score.result_id))
    classes = defaultdict(dict)
    for row in student.enrolments.select_related("class_group").order_by("joined_on", "pk"):
        classes[row.term_id][row.class_group.name] = row
    terms = [
        term for term in Term.objects.order_by("starts_on")
        if term.pk in classes or any(term.starts_on <= score.on <= term.ends_on for score in told)
    ]
    by_measure: dict[int, list[Score]] = defaultdict(list)
    for score in told:
        by_measure[score.measure_id].append(score)
    drawn = [measure for key, measure in measures.items() if by_measure[key]]
    rows = tuple(_row(measure, by_measure[measure.pk], protocols) for measure in drawn)
    names = {term.pk: ", ".join(classes[term.pk]) for term in terms}
    reports = student.pain_reports.meant().order_by("reported_on") if Consent.PAIN in agreed else []
    heights = readings(student.heights.saying()) if may_show else []
    cells = tuple(
        TermRow(term, names[term.pk], tuple(_cell(m, by_measure[m.pk], term, protocols) for m in drawn))
        for term in terms
    )
    return YearsView(Years(
        title=_("The years of %(name)s") % {"name": student.name},
        terms=tuple(TermSpan(term.name, names[term.pk], term.starts_on, term.ends_on) for term in terms), rows=rows,
        pain=tuple(report.reported_on for report in reports),
        heights=tuple((each.on, write_number(each.height_cm, 1)) for each in heights),
        pain_words=_("Pain reported"), height_words=_("Height, cm"), change_words=_("new protocol"),
        told=_("The same stands in the table below."),
    ), tuple(str(measure) for measure in drawn), cells)


def _row(measure: Measure, told: list[Score], protocols: dict[int, Protocol]) -> Row:
    changes = tuple(after.on for before, after in pairwise(told) if after.protocol_id != before.protocol_id)
    return Row(str(measure), tuple(
        Point(score.on, score.side, float(score.value),
              write_value(score.value, measure, protocols[score.protocol_id], capped=score.capped), score.protocol_id)
        for score in told
    ), tuple(dict.fromkeys(changes)))


def _cell(measure: Measure, told: list[Score], term: Term, protocols: dict[int, Protocol]) -> str:
    """ "left 11, at the end 16; right 12": the first and the last result of each side in a term."""
    by_side = defaultdict(list)
    for score in told:
        if term.starts_on <= score.on <= term.ends_on:
            by_side[score.side].append(
                write_value(score.value, measure, protocols[score.protocol_id], capped=score.capped)
            )
    return "; ".join(
        f"{side_word(side)} {_first_and_last(values)}".strip() for side, values in sorted(by_side.items())
    )


def _first_and_last(values: list[str]) -> str:
    if len(values) == 1:
        return values[0]
    return _("%(first)s, last %(last)s") % {"first": values[0], "last": values[-1]}
