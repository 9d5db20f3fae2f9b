"""Lays out what a class hangs up or takes home to sign: the barre card, the consent forms; reads no database."""
from collections.abc import Mapping, Sequence

from django.template.loader import render_to_string
from django.utils.translation import get_language

from studio.models import ClassGroup, Student, Studio, Term


def barre_card_html(
    shown: Mapping[str, object], *, class_group: ClassGroup, term: Term | None, studio: Studio, printed: str
) -> str:
    """The programme on one page. `shown`: its rows and groups, as the page on screen has them."""
    return render_to_string("progress/paper/barre_card.html", {
        **shown, "class_group": class_group, "term": term, "house": studio.name, "printed": printed,
        "language": get_language(),
    })


def consent_forms_html(sheets: Sequence[tuple[Student, str]], *, class_group: ClassGroup, studio: Studio) -> str:
    """A page for each (student, language)."""
    return render_to_string("progress/paper/consents.html", {
        "sheets": sheets, "class_group": class_group, "studio": studio, "months": studio.months_kept,
        "language": get_language(),
    })
