"""Lays out what one teacher hands to the next: a page a student, and a list of the class before them."""
from collections.abc import Sequence

from progress.papers.page import page_html
from progress.queries.papers.handover import Handover
from studio.models import ClassGroup, Studio, Term


def handover_html(
    told: Sequence[Handover], *, class_group: ClassGroup | None, term: Term, studio: Studio, printed: str
) -> str:
    """class_group: the class whose list stands first; None for one student's page alone."""
    return page_html("handover", told=told, class_group=class_group, term=term, house=studio, printed=printed)
