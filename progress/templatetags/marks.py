"""Lets templates draw the small marks; knows no data."""
from django import template
from django.utils.safestring import SafeString, mark_safe

from progress.drawing import marks
from progress.words import speech

register = template.Library()


@register.simple_tag
def verdict_mark(key: str, had: int | None = None, needed: int = 4) -> SafeString:
    return mark_safe(marks.verdict(key, had=had, needed=needed))


@register.simple_tag
def side_mark(side: str) -> SafeString:
    return mark_safe(marks.side(side))


@register.filter
def foot(side: str) -> str:
    """ "left", "right", or "" where a measure has no sides."""
    return speech.side_word(side)


@register.simple_tag
def mark(name: str) -> SafeString:
    """One of pain, apart, not_measured, logo, sole, or saving_open, saving_half, saving_full."""
    drawn = {
        "pain": marks.pain, "apart": marks.apart, "not_measured": marks.not_measured, "logo": marks.logo,
        "sole": marks.sole,
    }
    if name.startswith("saving_"):
        return mark_safe(marks.saving(name.removeprefix("saving_")))
    return mark_safe(drawn[name]())
