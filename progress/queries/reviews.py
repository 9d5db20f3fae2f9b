"""Reads the reviews before pointe work of a student: who saw what, side by side, and what people decided."""
import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Prefetch
from django.utils.translation import gettext as _

from progress.models import Decision, PointSeen, Review
from progress.queries.on_record import Asked, Fact, on_record
from progress.rules.pointe_points import PAIN, POINTS, Point
from progress.words.speech import names_in_a_row
from studio.family.queries import agreed_scopes
from studio.models import ClassGroup, Consent, Student, User
from studio.queries import term_on


@dataclass(frozen=True)
class PointView:
    """One point: what is on record, and beside it each person's view, none laid over another."""

    point: Point
    facts: tuple[Fact, ...]
    seen: tuple[PointSeen, ...]


@dataclass(frozen=True)
class ReviewView:
    """One review with its views by point and its decisions. `decision`: the one in force; earlier ones stay."""

    review: Review
    points: tuple[PointView, ...]
    decision: Decision | None
    earlier: tuple[Decision, ...]


@dataclass(frozen=True)
class ReviewPage:
    """The page: the points with what is on record, the present review where there is one, and those before it."""

    points: tuple[PointView, ...]
    present: ReviewView | None
    before: tuple[ReviewView, ...]
    tells_health: bool


def class_now(student: Student) -> ClassGroup | None:
    """The class that a student joined last and is still in."""
    row = student.enrolments.filter(left_on__isnull=True).select_related("class_group").order_by("-joined_on").first()
    return row.class_group if row else None


def in_force(rows: Iterable[PointSeen]) -> list[PointSeen]:
    """Of each person's rows of a point the last one, in the order in which people first spoke."""
    last: dict[tuple, PointSeen] = {}
    for row in rows:
        last[row.point, row.whose, row.said_by or row.by_id] = row
    return list(last.values())


def points_asked(agreed: frozenset[str]) -> tuple[Point, ...]:
    """The points that may be asked and shown: pain only where the family agreed to pain notes."""
    return tuple(point for point in POINTS if point.key != PAIN or Consent.PAIN in agreed)


def review_page(student: Student, *, today: dt.date, now: dt.datetime) -> ReviewPage:
    """Everything about a student's reviews as it may be shown now; the caller asked for consent to measurements."""
    agreed = agreed_scopes(student, now)
    reviews = [_view(review, agreed) for review in reviews_of(student)]
    present, before = (reviews[0], tuple(reviews[1:])) if reviews else (None, ())
    asked = Asked(student, term_on(today), class_now(student), agreed, today, now)
    facts = on_record(asked)
    seen = {each.point.key: each.seen for each in present.points} if present else {}
    points = tuple(
        PointView(point, tuple(facts[point.key]), seen.get(point.key, ())) for point in points_asked(agreed)
    )
    return ReviewPage(points, present, before, Consent.PAIN in agreed)


def reviews_of(student: Student) -> list[Review]:
    """The newest first, with who said what."""
    return list(student.reviews.select_related("opened_by").prefetch_related(
        Prefetch("seen", PointSeen.objects.select_related("by")),
        Prefetch("decisions", Decision.objects.select_related("by")),
    ))


def _view(review: Review, agreed: frozenset[str]) -> ReviewView:
    rows = [row for row in in_force(review.seen.all()) if may_tell(row, agreed)]
    decisions = list(review.decisions.all())
    return ReviewView(
        review,
        tuple(
            PointView(point, (), tuple(row for row in rows if row.point == point.key)) for point in points_asked(agreed)
        ),
        decisions[-1] if decisions else None, tuple(reversed(decisions[:-1])),
    )


def may_tell(row: PointSeen, agreed: frozenset[str]) -> bool:
    """What a health professional said, and whatever is said of pain, only where the family agreed to pain notes."""
    return Consent.PAIN in agreed or (row.whose != PointSeen.HEALTH and row.point != PAIN)


def own_view(review: Review, whose: str, by: User) -> dict[str, PointSeen]:
    """What the writer said before, by point; of somebody else's view nothing, because the name comes with it."""
    if whose != PointSeen.TEACHER:
        return {}
    rows = in_force(review.seen.filter(whose=whose, by=by).select_related("by"))
    return {row.point: row for row in rows}


def asked_words(decision: Decision) -> str:
    """ "the family, teachers and a health professional: Abena Owiredu, Dr Vane"."""
    words = names_in_a_row([str(words) for key, words in Decision.ASKED if key in decision.asked])
    return ": ".join(part for part in (words, decision.names) if part) or _("nobody named")
