"""A paper as one page of HTML, pictures within it; reads no database and no clock."""
from django.template.loader import render_to_string
from django.utils.translation import get_language


def page_html(name: str, **shown: object) -> str:
    """The template of this name with what it shows: the same facts, words and language give the same text.

    printed, where the template has it: the words at the foot about the printing, such as its day.
    """
    return render_to_string(f"progress/paper/{name}.html", {**shown, "language": get_language()})
