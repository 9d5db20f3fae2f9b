"""Lays a student's record out as one page of HTML for paper; knows no database and no clock."""
from progress.papers.page import page_html
from progress.papers.pictures import picture
from progress.queries.papers.record import Strand, StudentRecord, with_first_days
from studio.voice import Voice


def record_html(record: StudentRecord, *, printed: str, voice: Voice) -> str:
    begins, rows = with_first_days(record.rows)
    return page_html(
        "record", record=record, printed=printed, begins=begins, rows=rows,
        large=[_drawn(strand, "a4", voice) for strand in record.strands[:1]],
        small=[_drawn(strand, "a4-small", voice) for strand in record.strands[1:]],
    )


def _drawn(strand: Strand, size: str, voice: Voice) -> tuple[Strand, str, str]:
    if strand.chart is None:
        return strand, "", ""
    return strand, picture(strand.chart, size, voice), strand.chart.sentence
