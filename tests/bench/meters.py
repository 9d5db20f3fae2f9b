"""Reads what a committed transaction cost: processor time of both sides, bytes in the database's log."""

from __future__ import annotations

import os
import time
from pathlib import Path


class Meter:
    """`begin`, a transaction, `end`: seconds of processor time, and bytes written."""

    def __init__(self) -> None:
        from django.db import connection

        self.connection = connection
        connection.ensure_connection()

    def begin(self) -> None:
        log = self._log()
        # SQLite's log was emptied by looking at it.
        log = 0.0 if self.connection.vendor == "sqlite" else log
        self._before = (log, self._server(), time.process_time())

    def end(self) -> tuple[float, float]:
        own = time.process_time()
        log, server, before = self._before
        return own - before + self._server() - server, self._log() - log

    def _log(self) -> float:
        with self.connection.cursor() as cursor:
            if self.connection.vendor == "postgresql":
                cursor.execute("SELECT pg_current_wal_insert_lsn() - '0/0'::pg_lsn")
                return float(cursor.fetchone()[0])
            log = Path(f"{self.connection.settings_dict['NAME']}-wal")
            # The log begins anew; what is in the database before does not count.
            written = log.stat().st_size if log.exists() else 0
            cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            return written

    def _server(self) -> float:
        if self.connection.vendor != "postgresql":
            return 0.0
        with self.connection.cursor() as cursor:
            cursor.execute("SELECT pg_backend_pid()")
            fields = Path(f"/proc/{cursor.fetchone()[0]}/stat").read_text().rsplit(")", 1)[1].split()
        return sum(map(int, fields[11:13])) / os.sysconf("SC_CLK_TCK")
