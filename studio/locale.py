"""Speaks the studio's language and time where there is no request: in commands and background work."""
import os
import zoneinfo
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.conf import settings
from django.utils import timezone, translation

from studio.models import Studio


@contextmanager
def in_the_studio() -> Iterator[Studio]:
    """The studio's row, its language and its time zone for as long as the block lasts."""
    studio = Studio.current()
    with translation.override(studio.language_code), timezone.override(zoneinfo.ZoneInfo(studio.time_zone)):
        yield studio


def computers_time_zone(etc: Path = Path("/etc")) -> str:
    """The time zone that this computer is set to, by its name; the settings' own where it does not say one.

    Debian and Ubuntu keep it as a name in `timezone`, others as a link from `localtime` into the zones.
    """
    known = zoneinfo.available_timezones()
    try:
        name = (etc / "timezone").read_text(encoding="ascii").strip()
    except (OSError, ValueError):
        name = ""
    linked = os.path.realpath(etc / "localtime").rpartition("/zoneinfo/")[2]
    return next((zone for zone in (name, linked) if zone in known), settings.TIME_ZONE)
