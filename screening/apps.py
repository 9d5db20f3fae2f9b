"""Names the screening app; holds no code that runs at start."""
from django.apps import AppConfig


class ScreeningConfig(AppConfig):
    name = "screening"
    default_auto_field = "django.db.models.BigAutoField"
