"""Names the progress app, and says at the start whether its papers can be printed here."""
from django.apps import AppConfig
from django.core.checks import Warning as CheckWarning
from django.core.checks import register

from progress.papers import paper


class ProgressConfig(AppConfig):
    name = "progress"
    default_auto_field = "django.db.models.BigAutoField"


@register()
def can_print(app_configs, **options) -> list[CheckWarning]:
    """A warning where a system library of the printer is missing; the pages work without it."""
    if not paper.MISSING:
        return []
    hint = "Start with ./risebook run, which installs it, or install pango and harfbuzz-subset."
    return [CheckWarning(f"Nothing can be printed: {paper.MISSING}", hint=hint, id="progress.W001")]
