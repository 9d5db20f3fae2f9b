"""Lays the papers of a review out as one page of HTML each; knows no database and no clock."""
from progress.papers.page import page_html
from progress.queries.papers.review import ReviewPaper


def review_html(kind: str, told: ReviewPaper, *, printed: str) -> str:
    """The "sheet" for the conversation, or the "letter" after the decision, which must be there."""
    return page_html(
        f"review_{kind}", told=told, student=told.review.student, words=told.page.words if told.page else None,
        decision=told.decision, printed=printed,
    )
