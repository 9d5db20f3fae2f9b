"""Lets the office's page lay out the owner's desk: what is missing this term, over the doors that studio knows."""
from django import template

from progress.queries.desk import Doors, desk_rows, doors, missing_words
from progress.queries.today import ruler_of
from studio.audit.marks import mark_students
from studio.queries import term_on

register = template.Library()


@register.inclusion_tag("progress/_desk.html", takes_context=True)
def desk(context: dict) -> dict:
    """The head of the page and its rows; whom a row names is marked as seen."""
    request = context["request"]
    term = term_on(request.today)
    rows = desk_rows(term, today=request.today, now=request.now)
    mark_students(request, (key for row in rows for key in row.students))
    return {
        "term": term, "ruler": ruler_of(term, request.today) if term else None, "rows": rows,
        "missing": missing_words(term, rows),
    }


@register.simple_tag(takes_context=True)
def door_words(context: dict) -> Doors:
    """How much there is behind each of the office's doors."""
    request, terms = context["request"], list(context["terms"])
    # As `term_on` has it, of those that the page has read already.
    begun = [term for term in terms if term.starts_on <= request.today] or terms[-1:]
    return doors(
        terms=len(terms), term=begun[0] if begun else None, classes=len(context["classes"]),
        people=sum(person.is_active for person in context["people"]),
        today=request.today, now=request.now,
    )
