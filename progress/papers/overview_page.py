"""Lays the overview of a term out as HTML; reads no database."""
import datetime as dt

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from progress.drawing.bars import bar
from progress.papers.page import page_html
from progress.papers.pictures import data_uri
from progress.queries.papers.term_overview import VERDICTS, ClassOverview, StrandCount, TermOverview
from progress.words.speech import verdict_word
from studio.models import Studio, Term

Bar = tuple[str, str]


def overview_html(overview: TermOverview, *, term: Term, today: dt.date, studio: Studio, printed: str) -> str:
    """The whole term of the studio: each class with its bars, then what was seen to."""
    return page_html(
        "overview", overview=overview, term=term, house=studio.name, printed=printed, day=min(today, term.ends_on),
        classes=[_bars(each) for each in overview.classes],
        key=[(verdict_word(each), picture([(each, 1)], verdict_word(each), 12)) for each in _said(overview)],
    )


def _said(overview: TermOverview) -> list[str]:
    """The verdicts that there are in any bar, in the bars' order."""
    there = {key for each in overview.classes for strand in each.strands for key, count in strand.counts if count}
    return [verdict for verdict in VERDICTS if verdict in there]


def _bars(each: ClassOverview) -> tuple[ClassOverview, Bar, Bar | None, list[tuple[StrandCount, Bar]]]:
    """A class with the bars of who is measured, who came, and of each strand: (what it says, picture)."""
    agreed = each.students - each.withheld
    measured = ngettext(
        "%(n)s of %(all)s measured, in %(m)s measure", "%(n)s of %(all)s measured in all %(m)s measures",
        len(each.strands),
    ) % {"n": each.complete, "all": agreed, "m": len(each.strands)} if each.strands else _("nobody measured")
    came = ngettext("came %(n)s of %(all)s time", "came %(n)s of %(all)s times", each.asked_to_come) % {
        "n": each.came, "all": each.asked_to_come}
    share = [("done", each.came), ("left", each.asked_to_come - each.came)]
    return (
        each, (measured, picture([("done", each.complete), ("left", agreed - each.complete)], measured)),
        (came, picture(share, came)) if each.asked_to_come else None,
        [(strand, _verdicts(strand)) for strand in each.strands],
    )


def _verdicts(strand: StrandCount) -> Bar:
    words = ", ".join(f"{count} {verdict_word(key)}" for key, count in strand.counts if count) or _("nothing yet")
    return words, picture(strand.counts, words)


def picture(pieces, words: str, width: int = 215) -> str:
    """A bar as a data URI."""
    return data_uri(bar(pieces, words=words, width=width))
