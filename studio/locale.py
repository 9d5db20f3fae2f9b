"""Speaks the studio's language and time where there is no request: in commands and background work."""
import zoneinfo
from collections.abc import Iterator
from contextlib import contextmanager

from django.utils import timezone, translation

from studio.models import Studio


@contextmanager
def in_the_studio() -> Iterator[Studio]:
    """The studio's row, its language and its time zone for as long as the block lasts."""
    studio = Studio.current()
    with translation.override(studio.language_code), timezone.override(zoneinfo.ZoneInfo(studio.time_zone)):
        yield studio
