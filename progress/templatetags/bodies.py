"""Lets templates draw a body at work, by the key of its pose, and a dose; knows no exercise and no student."""
from django import template
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from progress.drawing import columns, dose_dots
from progress.drawing.body.poses import POSES, drawing, fault_alone, pose_of_fault
from progress.rules.dose import Dose

register = template.Library()


@register.simple_tag
def body(key: str, size: str = "large", *, is_quiet: bool = False) -> SafeString:
    """The drawing of a pose, "large", "medium" or "small", and nothing for a key that is not drawn.

    `is_quiet` where the words beside it say the same, so that no ear hears it twice.
    """
    pose = POSES.get(key)
    return mark_safe(drawing(key, size, "" if is_quiet or pose is None else _(pose.says)))


@register.simple_tag
def body_of_fault(words: str) -> SafeString:
    """The fault alone, small, for a button that says it; nothing for a fault that no still picture shows."""
    return mark_safe(fault_alone(pose_of_fault(words)))


@register.simple_tag
def counted(dose: Dose | str, each_foot: bool = False) -> SafeString:
    """The dose as dots to be counted; its words stand beside it. Nothing for "", a row that only some do."""
    if not dose:
        return mark_safe("")
    return mark_safe(dose_dots.dose_dots(dose.sets, dose.reps, dose.hold_seconds, each_foot=each_foot))


@register.simple_tag
def column(share: float, is_jump: bool = False) -> SafeString:
    """One week's column; its number stands beside it."""
    return mark_safe(columns.column(share, is_jump=is_jump))


@register.filter
def drawn_fault(words: str) -> str:
    """The key of the pair that shows a fault, "" where none does."""
    return pose_of_fault(words)
