"""Reads the two papers of a review: the sheet for the conversation with the family, and the letter afterwards."""
import datetime as dt
from dataclasses import dataclass

from django.utils.translation import gettext as _

from progress.models import Decision, Review
from progress.queries.family import FamilyPage, family_page
from progress.queries.reviews import points_asked
from progress.rules.pointe_points import Point
from studio.models import Consent, Studio
from studio.queries import term_on


@dataclass(frozen=True)
class ReviewPaper:
    """What both papers are made of. `page`: what the family's page says, None where there is no term; `decision`:
    the one in force, None before there is any; `told`: its words for the family, in paragraphs."""

    studio: Studio
    review: Review
    points: tuple[Point, ...]
    page: FamilyPage | None
    decision: Decision | None
    told: tuple[str, ...]
    today: dt.date


def review_paper(review: Review, *, studio: Studio, today: dt.date, now: dt.datetime) -> ReviewPaper:
    """In the active language; what the family agreed to is asked before."""
    page = family_page(review.student, term_on(today), at=now, today=today)
    decision = review.decisions.select_related("by").last()
    text = (decision.for_family or decision.decided) if decision else ""
    return ReviewPaper(
        studio=studio, review=review, points=points_asked(page.agreed if page else frozenset()), page=page,
        decision=decision, told=tuple(line.strip() for line in text.splitlines() if line.strip()), today=today,
    )


def reason_for_no_paper(review: Review, kind: str, *, agreed: frozenset[str]) -> str:
    """Why the sheet or the letter is not printed; "" where it is."""
    if Consent.FAMILY not in agreed:
        return _("No consent to share.")
    if kind == "letter" and not review.decisions.exists():
        return _("Nothing is decided yet.")
    return ""
