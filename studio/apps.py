"""Names the studio app; at start it gives every form's fields their words."""
from django.apps import AppConfig

from studio.field_words import speak


class StudioConfig(AppConfig):
    name = "studio"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        speak()
