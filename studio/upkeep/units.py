"""The systemd units that start a studio at boot and look after it, as text; knows no Django.

What each line of the hardening means: systemd.exec(5). The studio's own folder alone can be written.
"""
from dataclasses import dataclass
from pathlib import Path

WEB, WORK, BACKUP, MAIL = "risebook.service", "risebook-work.service", "risebook-backup", "risebook-mail"
# At night, and before the first class; a computer that was off does it when it is on again.
BACKUP_AT, MAIL_AT = "*-*-* 03:15:00", "*-*-* 06:30:00"
HARDENED = """\
NoNewPrivileges=yes
PrivateTmp=yes
PrivateDevices=yes
ProtectSystem=strict
ProtectHome=read-only
ProtectKernelTunables=yes
ProtectKernelModules=yes
ProtectKernelLogs=yes
ProtectControlGroups=yes
ProtectClock=yes
ProtectHostname=yes
RestrictAddressFamilies=AF_UNIX AF_INET AF_INET6 AF_NETLINK
RestrictNamespaces=yes
RestrictRealtime=yes
RestrictSUIDSGID=yes
LockPersonality=yes
CapabilityBoundingSet=
SystemCallArchitectures=native
UMask=0077
"""


@dataclass(frozen=True)
class Installed:
    """Where Risebook lies, whose it is, and how it is reached. `backups`: another folder for them, or None."""

    code: Path
    var: Path
    user: str
    port: int
    is_on_network: bool = False
    address: str = ""
    backups: Path | None = None

    def units(self) -> dict[str, str]:
        """Name of the file -> its text."""
        backup = "backup" if self.backups is None else f"backup --to {_quoted(self.backups)}"
        return {
            WEB: self._web(), WORK: self._work(),
            f"{BACKUP}.service": self._once("Makes tonight's backup of the studio", backup),
            f"{BACKUP}.timer": _timer("Every night a backup of the studio", BACKUP_AT),
            f"{MAIL}.service": self._once("Sends the daily mail of follow-ups", "send_digest"),
            f"{MAIL}.timer": _timer("Every morning the mail of follow-ups", MAIL_AT),
        }

    def _web(self) -> str:
        python = _quoted(self.code / ".venv/bin/python")
        before = [f"ready_to_serve --as {WEB}", "migrate --noinput", "collectstatic --noinput --verbosity 0",
                  "first_start --empty"]
        if self.is_on_network:
            before.insert(1, "open_network")
        bind = "" if self.is_on_network else f" --bind 127.0.0.1:{self.port}"
        steps = "".join(f"ExecStartPre={python} manage.py {step}\n" for step in before)
        # The lock is what a start by hand asks for, so that one Risebook is in the folder.
        lock, server = _quoted(self.var / "run.lock"), _quoted(self.code / ".venv/bin/gunicorn")
        serve = f"ExecStart=/usr/bin/flock --no-fork --nonblock {lock} {server}{bind} studio.wsgi\n"
        rest = "Restart=always\nRestartSec=3\nTimeoutStartSec=15min\nTimeoutStopSec=30\n"
        return self._unit("Risebook, the studio's own pages", f"{steps}{serve}{rest}", is_wanted=True)

    def _work(self) -> str:
        command = f"ExecStart={_quoted(self.code / '.venv/bin/python')} manage.py work\nRestart=always\nRestartSec=5\n"
        return self._unit("Risebook, printing in the background", command, is_wanted=True, after=f" {WEB}")

    def _once(self, what: str, command: str) -> str:
        python = _quoted(self.code / ".venv/bin/python")
        return self._unit(what, f"Type=oneshot\nNice=10\nExecStart={python} manage.py {command}\n", after=f" {WEB}")

    def _unit(self, what: str, command: str, *, is_wanted: bool = False, after: str = "") -> str:
        settings = {"RISEBOOK_VAR_DIR": str(self.var)}
        if self.is_on_network:
            settings |= {"RISEBOOK_NETWORK": str(self.port), "RISEBOOK_ADDRESS": self.address}
        lines = "".join(f"Environment={_quoted(f'{name}={value}')}\n" for name, value in settings.items() if value)
        written = " ".join(_quoted(path) for path in (self.var, self.backups) if path)
        wanted = "\n[Install]\nWantedBy=multi-user.target\n" if is_wanted else ""
        return (
            f"[Unit]\nDescription={what}\nAfter=network-online.target postgresql.service{after}\n"
            f"Wants=network-online.target\nStartLimitIntervalSec=0\n\n"
            f"[Service]\nUser={self.user}\nWorkingDirectory={str(self.code).replace('%', '%%')}\n{lines}"
            f"EnvironmentFile=-/etc/risebook.env\n{command}ReadWritePaths={written}\n{HARDENED}{wanted}"
        )


def _timer(what: str, at: str) -> str:
    return (
        f"[Unit]\nDescription={what}\n\n[Timer]\nOnCalendar={at}\nRandomizedDelaySec=10min\nPersistent=true\n\n"
        "[Install]\nWantedBy=timers.target\n"
    )


def _quoted(word: Path | str) -> str:
    """One word of a unit file, whatever is in it (systemd.syntax(7), "Quoting").

    >>> _quoted(Path("/srv/my studio")), _quoted("A=50%")
    ('"/srv/my studio"', '"A=50%%"')
    """
    escaped = str(word).replace("\\", "\\\\").replace('"', '\\"').replace("%", "%%").replace("$", "$$")
    return f'"{escaped}"'
