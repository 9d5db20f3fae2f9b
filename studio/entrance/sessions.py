"""The session store behind SESSION_ENGINE: Django's own, which also writes down whose visit a session is."""
from django.contrib.auth import SESSION_KEY
from django.contrib.sessions.backends.db import SessionStore as DatabaseStore
from django.utils import timezone

from studio.entrance.keys import Visit


class SessionStore(DatabaseStore):
    """Keeps the row it loaded, so that a page learns how long a visit lasts without asking twice."""

    visit: Visit | None = None

    @classmethod
    def get_model_class(cls) -> type[Visit]:
        return Visit

    def _get_session_from_db(self) -> Visit | None:
        self.visit = super()._get_session_from_db()
        return self.visit

    def create_model_instance(self, data: dict) -> Visit:
        made, before, now = super().create_model_instance(data), self.visit, timezone.now()
        made.person_id = int(data[SESSION_KEY]) if SESSION_KEY in data else None
        made.tablet_id, made.way = data.get("tablet"), data.get("way", Visit.PASSWORD)
        made.browser = data.get("browser", "")
        goes_on = before is not None and (before.pk, before.person_id) == (made.pk, made.person_id)
        made.began_at, made.seen_at = (before.began_at, before.seen_at) if goes_on else (now, now)
        self.visit = made
        return made
