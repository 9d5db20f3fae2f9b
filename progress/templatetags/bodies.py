"""Lets templates draw a body at work, by the key of its pose; knows no exercise and no student."""
from django import template
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from progress.drawing.body.poses import POSES, drawing, pose_of_fault

register = template.Library()


@register.simple_tag
def body(key: str, size: str = "large", *, is_quiet: bool = False) -> SafeString:
    """The drawing of a pose, "large", "medium" or "small", and nothing for a key that is not drawn.

    `is_quiet` where the words beside it say the same, so that no ear hears it twice.
    """
    pose = POSES.get(key)
    return mark_safe(drawing(key, size, "" if is_quiet or pose is None else _(pose.says)))


@register.filter
def drawn_fault(words: str) -> str:
    """The key of the pair that shows a fault, "" where none does."""
    return pose_of_fault(words)
