"""Lays a student's record out as one page of HTML for paper; knows the template, no database and no clock."""
from django.template.loader import render_to_string
from django.utils.translation import get_language

from progress.papers.pictures import picture
from progress.queries.papers.record import Strand, StudentRecord, with_first_days
from progress.words.voice import Voice


def record_html(record: StudentRecord, *, printed: str, voice: Voice) -> str:
    """The whole document, pictures within it; the same record, words, language and voice give the same text.

    printed: the words at the foot about the printing, such as its day.
    """
    begins, rows = with_first_days(record.rows)
    return render_to_string("progress/paper/record.html", {
        "record": record, "printed": printed, "language": get_language(), "begins": begins, "rows": rows,
        "large": [_drawn(strand, "a4", voice) for strand in record.strands[:1]],
        "small": [_drawn(strand, "a4-small", voice) for strand in record.strands[1:]],
    })


def _drawn(strand: Strand, size: str, voice: Voice) -> tuple[Strand, str, str]:
    if strand.chart is None:
        return strand, "", ""
    return strand, picture(strand.chart, size, voice), strand.chart.sentence
