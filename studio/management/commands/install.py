"""`manage.py install`: starts the studio at boot, backs it up every night; `--remove` takes that away again."""
import fcntl
import os
import pwd
import shutil
import subprocess
from pathlib import Path

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from studio.upkeep.backing_up import has_key, make_key
from studio.upkeep.home import home
from studio.upkeep.sealing import new_passphrase
from studio.upkeep.units import BACKUP, MAIL, WEB, WORK, Installed

UNITS = Path("/etc/systemd/system")
SYSTEMD = Path("/run/systemd/system")
OWN_USER = "risebook"
STARTED = (WEB, WORK, f"{BACKUP}.timer", f"{MAIL}.timer")
WITHOUT_SYSTEMD = """This computer has no systemd, so Risebook cannot put itself into its start. Let the computer do
this by its own means, as the person this folder belongs to:
  at every start    cd {code} && bash risebook run
  every night       cd {code} && bash risebook backup
  every morning     cd {code} && bash risebook manage send_digest
With cron: crontab -e, and "@reboot", "15 3 * * *" and "30 6 * * *" in front of these lines."""


class Command(BaseCommand):
    help = "Puts Risebook into the computer's start (systemd), with a backup every night. Needs root."
    requires_system_checks = []

    def add_arguments(self, parser) -> None:
        parser.add_argument("--port", type=int, help="the port (8000; with --network 8443)")
        parser.add_argument("--network", action="store_true", help="for the tablets on the studio's network")
        parser.add_argument("--address", default="", help="with --network: the address, where there are several")
        parser.add_argument("--backups", metavar="FOLDER", help="another folder or disk for the nightly backups")
        parser.add_argument("--units-to", metavar="FOLDER", help="only write the units there, to be looked at")
        parser.add_argument("--remove", action="store_true", help="take Risebook out of the computer's start")

    def handle(self, *args, remove: bool, units_to: str | None, **options) -> None:
        if units_to:
            self.write_units(Path(units_to), self.installed(**options))
            return
        if not SYSTEMD.is_dir():
            raise CommandError(WITHOUT_SYSTEMD.format(code=settings.BASE_DIR))
        if os.geteuid() != 0:
            raise CommandError(f"This needs root: sudo ./risebook {'uninstall' if remove else 'install'}")
        if remove:
            self.remove()
        else:
            self.install(self.installed(**options))

    def installed(self, *, port: int | None, network: bool, address: str, backups: str | None, **options) -> Installed:
        return Installed(
            code=Path(settings.BASE_DIR), var=Path(settings.VAR_DIR).resolve(), user=user_for(Path(settings.BASE_DIR)),
            port=port or (8443 if network else 8000), is_on_network=network, address=address,
            backups=Path(backups).resolve() if backups else None,
        )

    def install(self, installed: Installed) -> None:
        here = home()
        if here.database.is_empty():
            raise CommandError("Start Risebook once first and write down the owner's password: ./risebook run")
        if is_held(here.var / "run.lock"):
            raise CommandError("Risebook is running. Stop it first (Ctrl-C in its terminal), then install.")
        if not has_key(here):
            passphrase = new_passphrase()
            make_key(here, passphrase)
            self.stdout.write(
                f"The passphrase of the backups, shown this once:\n\n    {passphrase}\n\n"
                "Write it on paper and keep it away from this computer."
            )
        if installed.user == OWN_USER:
            make_user(here.var)
        for folder in filter(None, (here.var, installed.backups)):
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            give(folder, installed.user)
        self.write_units(UNITS, installed)
        run("systemctl", "daemon-reload")
        run("systemctl", "enable", "--now", *STARTED)
        self.stdout.write(
            f"Risebook starts with this computer, as the user {installed.user}, and is backed up every night. "
            "How it is doing: ./risebook check. To take it away: sudo ./risebook uninstall"
        )

    def remove(self) -> None:
        there = [name for name in STARTED if (UNITS / name).exists()]
        if there:
            run("systemctl", "disable", "--now", *there)
        for path in UNITS.glob("risebook*"):
            path.unlink()
        run("systemctl", "daemon-reload")
        self.stdout.write(
            f"Risebook no longer starts with this computer. The studio is as it was, in {settings.VAR_DIR}."
        )

    def write_units(self, folder: Path, installed: Installed) -> None:
        for name, text in installed.units().items():
            (folder / name).write_text(text, encoding="utf-8")


def user_for(code: Path) -> str:
    """A user of its own where that one can reach the code, else whom the folder belongs to (a home is closed)."""
    is_open = all(folder.stat().st_mode & 0o005 == 0o005 for folder in (code, *code.parents))
    return OWN_USER if is_open else pwd.getpwuid(code.stat().st_uid).pw_name


def make_user(home_folder: Path) -> None:
    try:
        pwd.getpwnam(OWN_USER)
    except KeyError:
        run("useradd", "--system", "--user-group", "--no-create-home", "--home-dir", str(home_folder),
            "--shell", "/usr/sbin/nologin", OWN_USER)


def give(folder: Path, user: str) -> None:
    """The folder and all that is in it, to this user alone."""
    for path in (folder, *folder.rglob("*")):
        shutil.chown(path, user, pwd.getpwnam(user).pw_gid)
    folder.chmod(0o700)


def is_held(lock: Path) -> bool:
    """True where somebody holds this lock."""
    if not lock.exists():
        return False
    with lock.open() as file:
        try:
            fcntl.flock(file, fcntl.LOCK_SH | fcntl.LOCK_NB)
        except BlockingIOError:
            return True
    return False


def run(*words: str) -> None:
    done = subprocess.run(words, capture_output=True, text=True)  # noqa: S603
    if done.returncode:
        said = (done.stderr.strip().splitlines() or ["nothing"])[-1]
        raise CommandError(f"{' '.join(words[:2])} failed. It said: {said}")
