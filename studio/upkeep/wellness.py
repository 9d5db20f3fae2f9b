"""Is it well: everything that can quietly go wrong on a studio's computer, each in words with what to do."""
import datetime as dt
import fcntl
import os
import shutil
import stat
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from cryptography import x509
from django.conf import settings
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django_tasks_db.models import DBTaskResult

from studio.audit.models import AuditRow
from studio.models import Studio
from studio.network.certificates import AUTHORITY_FILE, SERVER_FILE
from studio.upkeep.home import BackupNote, note_of
from studio.upkeep.restoring import is_half_done
from studio.version import VERSION

WELL, SOON, BAD = "well", "soon", "bad"
# Our choices: below the first the owner should make room, below the second writing may fail at any moment.
LITTLE_ROOM, NO_ROOM, LAST_ROOM = 2 * 1024 ** 3, 300 * 1024 ** 2, 1024 ** 2
# One night missed is a night; more is a fault. After so many days a lost disk costs a week's classes.
BACKUP_SOON, BACKUP_BAD = dt.timedelta(hours=36), dt.timedelta(days=8)
# The background writes so often that it is alive (manage.py work), and a report takes seconds.
SILENT, WAITED = dt.timedelta(minutes=1), dt.timedelta(minutes=15)
CLOCKS_DIFFER = dt.timedelta(minutes=5)
CERTIFICATE_SOON, AUTHORITY_SOON = dt.timedelta(days=20), dt.timedelta(days=90)
WORK_LOCK = "work.lock"


@dataclass(frozen=True)
class Finding:
    """One thing that was looked at; `todo` says what to do where it is not well."""

    name: str
    state: str
    words: str
    todo: str = ""


def findings(now: dt.datetime, *, thorough: bool = False) -> list[Finding]:
    """Everything, in the order in which it would be mended. `thorough` reads the whole database."""
    looks: list[tuple[str, Callable[[], Finding]]] = [
        (_("Disk"), disk), (_("Folder"), folder), (_("Database"), lambda: database(thorough)),
        (_("Background work"), lambda: background(now)), (_("Backup"), lambda: backup(now)), (_("Mail"), mail),
        (_("Certificate"), lambda: certificate(now)), (_("Clock"), lambda: clock(now)),
    ]
    found = [_looked(name, look) for name, look in looks]
    found.append(Finding(_("Version"), WELL, _("Risebook %(version)s") % {"version": VERSION}))
    return found


def _looked(name: str, look: Callable[[], Finding]) -> Finding:
    """What a look found; that it could not look is a finding, too."""
    try:
        return look()
    except (DatabaseError, OSError, ValueError) as why:
        [said, *_more] = str(why).splitlines() or [type(why).__name__]
        return Finding(name, BAD, _("Nobody can tell: %(why)s") % {"why": said[:200]},
                       _("See to the database and the disk first."))


def disk() -> Finding:
    var = Path(settings.VAR_DIR)
    free = shutil.disk_usage(var).free
    words = _("%(size)s free in %(folder)s.") % {"size": size_words(free), "folder": var}
    todo = _("Delete what is not needed, or move the backups to another disk.")
    if free < NO_ROOM:
        return Finding(_("Disk"), BAD, words, todo)
    return Finding(_("Disk"), SOON if free < LITTLE_ROOM else WELL, words, todo if free < LITTLE_ROOM else "")


def folder() -> Finding:
    """The studio's own files: there, writable, and closed to other people."""
    name, var = _("Folder"), Path(settings.VAR_DIR)
    if is_half_done(var):
        return Finding(name, BAD, _("A restore was begun here and did not end."),
                       _("Run ./risebook restore FILE once more, or delete the folder “restoring”."))
    if not os.access(var, os.W_OK):
        return Finding(name, BAD, _("%(folder)s cannot be written.") % {"folder": var},
                       _("Start Risebook as the person this folder belongs to."))
    if stat.S_IMODE(var.stat().st_mode) & 0o077:
        return Finding(name, SOON, _("Other people on this computer can look into %(folder)s.") % {"folder": var},
                       _("In a terminal: chmod 700 %(folder)s") % {"folder": var})
    return Finding(name, WELL, _("Written by Risebook alone."))


def database(thorough: bool) -> Finding:
    """Whether it is sound and of this version."""
    name = _("Database")
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            said = cursor.execute(f"PRAGMA {'integrity_check' if thorough else 'quick_check'}(1)").fetchone()[0]
        if said != "ok":
            return Finding(name, BAD, _("It is damaged: %(said)s") % {"said": said[:200]},
                           _("Stop Risebook, move the folder away and restore the last backup: "
                             "./risebook restore FILE"))
    executor = MigrationExecutor(connection)
    if executor.migration_plan(executor.loader.graph.leaf_nodes()):
        return Finding(name, BAD, _("It is older than this version of Risebook."),
                       _("Stop Risebook and start it again."))
    return Finding(name, WELL, _("Sound, and of this version."))


def background(now: dt.datetime) -> Finding:
    """Whether reports are being printed, and whether one waits too long."""
    name, todo = _("Background work"), _("Stop Risebook and start it again.")
    heard = background_heard_at()
    if heard is None:
        return Finding(name, BAD, _("It does not run: ordered reports wait."), todo)
    if now - heard > SILENT:
        return Finding(name, BAD, _("It has not been heard of since %(at)s.") % {"at": moment_words(heard)}, todo)
    waiting = DBTaskResult.objects.ready().filter(enqueued_at__lt=now - WAITED).count()
    if waiting:
        words = ngettext("It runs, and %(n)s job waits for more than a quarter of an hour.",
                         "It runs, and %(n)s jobs wait for more than a quarter of an hour.", waiting) % {"n": waiting}
        return Finding(name, SOON, words, todo)
    return Finding(name, WELL, _("It runs."))


def background_heard_at() -> dt.datetime | None:
    """When the background work last said that it is alive; None where no process of it is there."""
    path = Path(settings.VAR_DIR) / WORK_LOCK
    try:
        with path.open() as lock:
            fcntl.flock(lock, fcntl.LOCK_SH | fcntl.LOCK_NB)
    except BlockingIOError:
        return dt.datetime.fromtimestamp(path.stat().st_mtime, dt.UTC)
    except FileNotFoundError:
        return None
    return None


def backup(now: dt.datetime) -> Finding:
    """The last good one, its age and size."""
    name, note = _("Backup"), note_of(Path(settings.VAR_DIR) / "backups")
    todo = _("In a terminal in Risebook’s folder: ./risebook backup")
    if note.made_at is None:
        words = _("There is none.") if not note.why else _("There is none. The last try: %(why)s") % {"why": note.why}
        return Finding(name, BAD, words, todo)
    words = _("The last good one is of %(at)s, %(size)s.") % {
        "at": moment_words(note.made_at), "size": size_words(note.bytes)}
    if _failed_since(note):
        return Finding(name, BAD, f"{words} {_('The last try failed: %(why)s') % {'why': note.why}}", todo)
    if not note.is_there:
        return Finding(name, SOON, f"{words} {_('Its file cannot be seen now.')}",
                       _("Put in the stick or disk it is on, or make another."))
    age = now - note.made_at
    if age > BACKUP_SOON:
        return Finding(name, BAD if age > BACKUP_BAD else SOON, words, todo)
    return Finding(name, WELL, words)


def _failed_since(note: BackupNote) -> bool:
    return note.failed_at is not None and note.failed_at > note.made_at


def mail() -> Finding:
    """Whether mail can go out, where the owner wants some."""
    name = _("Mail")
    is_set_up = bool(settings.MAIL_URL and settings.DEFAULT_FROM_EMAIL and settings.LINKS)
    if is_set_up:
        return Finding(name, WELL, _("A mail server is named."))
    if Studio.current().sends_digest:
        return Finding(name, SOON, _("The daily mail is turned on, and no mail server is named."),
                       _("Set RISEBOOK_MAIL_URL, RISEBOOK_MAIL_FROM and RISEBOOK_LINKS, or turn the mail off."))
    return Finding(name, WELL, _("Off: no mail is ever sent."))


def certificate(now: dt.datetime) -> Finding:
    """How long tablets go on trusting this computer."""
    name = _("Certificate")
    if settings.NETWORK is None:
        words = _("A web server in front speaks HTTPS.") if settings.BEHIND_TLS else _(
            "Not needed: Risebook answers on this computer only.")
        return Finding(name, WELL, words)
    ends = {file: _ends_at(settings.NETWORK.folder / file) for file in (SERVER_FILE, AUTHORITY_FILE)}
    if ends[AUTHORITY_FILE] - now < AUTHORITY_SOON:
        return Finding(name, SOON, _("Tablets trust this computer until %(at)s only.") % {
            "at": moment_words(ends[AUTHORITY_FILE])}, _("Move the network folder away and start Risebook again. Then "
                                                         "every tablet learns once to trust the new certificate."))
    days = (ends[SERVER_FILE] - now).days
    words = ngettext("Good for %(n)s more day. It is made anew by itself.",
                     "Good for %(n)s more days. It is made anew by itself.", days) % {"n": days}
    if ends[SERVER_FILE] - now < CERTIFICATE_SOON:
        return Finding(name, SOON, words, _("It should have been made anew by now: stop Risebook and start it again."))
    return Finding(name, WELL, words)


def _ends_at(path: Path) -> dt.datetime:
    return min(each.not_valid_after_utc for each in x509.load_pem_x509_certificates(path.read_bytes()))


def clock(now: dt.datetime) -> Finding:
    """Whether this computer's clock stands behind what was written down already."""
    name = _("Clock")
    last = AuditRow.objects.order_by("-pk").values_list("at", flat=True).first()
    if last is not None and last > now + CLOCKS_DIFFER:
        return Finding(name, BAD, _("It says %(now)s, and something was written down at %(last)s already.") % {
            "now": moment_words(now), "last": moment_words(last)},
            _("Set this computer’s clock by the internet. Results keep their order meanwhile."))
    return Finding(name, WELL, moment_words(now))


def desk_words(now: dt.datetime) -> str:
    """What the Office says beside the link: the last good backup where it is not well, else that something is not.

    Only what costs nothing to look at; the whole database is not read for it.
    """
    kept = _looked(_("Backup"), lambda: backup(now))
    if kept.state != WELL:
        return _("backup: %(words)s") % {"words": kept.words}
    quick = [_looked(_("Disk"), disk), _looked(_("Folder"), folder),
             _looked(_("Background work"), lambda: background(now))]
    quick.sort(key=lambda each: each.state != BAD)
    return next((f"{each.name}: {each.words}" for each in quick if each.state != WELL), "")


def size_words(count: int) -> str:
    """A size as people say it.

    >>> size_words(3_400_000), size_words(12_000), size_words(91_000_000_000)
    ('3.4 MB', '12 kB', '91 GB')
    """
    for unit, name in ((10 ** 9, "GB"), (10 ** 6, "MB")):
        if count >= unit:
            return f"{count / unit:.1f} {name}" if count < 10 * unit else f"{count // unit} {name}"
    return f"{max(1, round(count / 1000)) if count else 0} kB"


def moment_words(moment: dt.datetime) -> str:
    """24 March 2026, 03:00, where the studio is."""
    here = timezone.localtime(moment)
    return f"{date_format(here, 'DATE_FORMAT')}, {date_format(here, 'H:i')}"


def is_serving() -> bool:
    """Whether pages can be read and taps be written: for a supervisor that asks every few seconds."""
    var = Path(settings.VAR_DIR)
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1 FROM studio_studio")
        return not is_half_done(var) and os.access(var, os.W_OK) and shutil.disk_usage(var).free > 0
    except (DatabaseError, OSError):
        return False


def says_disk_full(problem: DatabaseError) -> bool:
    """Whether a database refused to write for want of room; in the words of SQLite and of PostgreSQL (53100)."""
    said = str(problem).lower()
    if "disk i/o error" in said:
        # SQLite's word for many things; one of them is that its index of the log found no room.
        return shutil.disk_usage(Path(connection.settings_dict["NAME"]).parent).free < LAST_ROOM
    return "disk is full" in said or "no space left" in said or getattr(problem.__cause__, "sqlstate", "") == "53100"
