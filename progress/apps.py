"""Names the progress app; holds no code that runs at start."""
from django.apps import AppConfig


class ProgressConfig(AppConfig):
    name = "progress"
    default_auto_field = "django.db.models.BigAutoField"
