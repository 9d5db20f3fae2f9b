"""A studio's database as a whole: copied while people work, counted table by table, put back; knows no model.

A table is told by its number of rows and a digest that no order of rows changes: the sum of the rows' own digests.
"""
import os
import shutil
import sqlite3
import subprocess
from collections.abc import Iterable, Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import Any

import psycopg
from django.db.backends.base.base import BaseDatabaseWrapper
from psycopg import sql

# Table -> (rows, digest).
Tables = dict[str, tuple[int, str]]
# What psycopg is given by Django that is no part of an address.
NOT_AN_ADDRESS = {"cursor_factory", "context", "prepare_threshold", "client_encoding", "server_side_binding"}


class DatabaseTrouble(Exception):
    """What cannot be done with the database, in a sentence for a person."""


def digest(rows: Iterable[bytes]) -> tuple[int, str]:
    """(how many, the sum of their digests): the same for the same rows in any order.

    >>> digest([b"a", b"b"]) == digest([b"b", b"a"]) != digest([b"a", b"a"])
    True
    """
    count = total = 0
    for row in rows:
        count += 1
        total += int.from_bytes(sha256(row).digest(), "big")
    return count, f"{total % 2 ** 256:064x}"


# --- SQLite --------------------------------------------------------------------------------------


@dataclass(frozen=True)
class SqliteFile:
    """A database in one file."""

    path: Path
    engine = "sqlite"

    def is_empty(self) -> bool:
        """True where nothing is there yet, or a file without any table."""
        return not self.path.exists() or not self.path.stat().st_size or not sqlite_tables(self.path)

    def size(self) -> int:
        """In bytes, with what waits in the log of changes."""
        beside = self.path.with_name(f"{self.path.name}-wal")
        return sum(path.stat().st_size for path in (self.path, beside) if path.exists())

    def copy(self, to: Path) -> Tables:
        """Copies all that is committed at one instant and returns what was there then; nobody has to wait for it."""
        try:
            with closing(_sqlite(self.path)) as source, closing(sqlite3.connect(to)) as copy:
                source.execute("BEGIN")
                tables = _sqlite_digests(source)
                source.backup(copy)
                # One file, with no log of changes beside it.
                copy.execute("PRAGMA journal_mode=DELETE")
        except sqlite3.DatabaseError as why:
            raise DatabaseTrouble(f"{self.path.name} cannot be copied: {why}. See ./risebook check.") from None
        return tables

    @contextmanager
    def tried_out(self, copied: Path, near: Path) -> Iterator[Tables]:
        """What a copy holds once it stands in an empty place of its own."""
        yield sqlite_tables(copied)

    def put_back(self, copied: Path) -> None:
        """Makes the copy the studio's database; whole or not at all."""
        self.path.parent.mkdir(parents=True, exist_ok=True)
        beside = self.path.with_name(f"{self.path.name}.restored")
        shutil.copyfile(copied, beside)
        beside.chmod(0o600)
        with beside.open("rb") as file:
            os.fsync(file.fileno())
        for end in ("-wal", "-shm"):
            self.path.with_name(f"{self.path.name}{end}").unlink(missing_ok=True)
        beside.replace(self.path)

    def replace(self, copied: Path) -> None:
        """The copy in place of what is there now."""
        self.put_back(copied)

    def counts(self, tables: list[str]) -> dict[str, int]:
        """Rows of those of the tables that are there."""
        return {name: rows for name, (rows, _digest) in sqlite_tables(self.path).items() if name in tables}


def sqlite_tables(path: Path) -> Tables:
    """Every table of a file; DatabaseTrouble where the file is no sound database."""
    with _sound(path, "integrity_check") as source:
        return _sqlite_digests(source)


def sqlite_is_sound(path: Path) -> None:
    """DatabaseTrouble where a file is cut short or damaged; nothing is written to it."""
    with _sound(path, "quick_check"):
        pass


@contextmanager
def _sound(path: Path, check: str) -> Iterator[sqlite3.Connection]:
    try:
        with closing(_sqlite(path)) as source:
            [(said,), *_more] = source.execute(f"PRAGMA {check}(1)").fetchall()
            if said != "ok":
                raise DatabaseTrouble(f"{path.name} is damaged: {' '.join(said.split())[:200]}")
            yield source
    except sqlite3.DatabaseError as why:
        raise DatabaseTrouble(f"{path.name} cannot be read: {why}") from None


def _sqlite(path: Path) -> sqlite3.Connection:
    connection = sqlite3.connect(path, isolation_level=None, timeout=20)
    connection.execute("PRAGMA query_only=ON")
    return connection


def _sqlite_digests(source: sqlite3.Connection) -> Tables:
    names = source.execute("SELECT name FROM sqlite_master WHERE type='table' AND name NOT LIKE 'sqlite_%'").fetchall()
    return {name: digest(_sqlite_rows(source, name)) for name, in names}


def _sqlite_rows(source: sqlite3.Connection, table: str) -> Iterator[bytes]:
    # Doubled quotes are SQL's own way to write one inside of a name.
    doubled = table.replace('"', '""')
    for row in source.execute(f'SELECT * FROM "{doubled}"'):  # noqa: S608
        yield repr(row).encode()


# --- PostgreSQL ----------------------------------------------------------------------------------


@dataclass(frozen=True)
class PostgresDatabase:
    """A database on a server; `address` is what psycopg connects with."""

    address: Mapping[str, Any]
    engine = "postgresql"

    def is_empty(self) -> bool:
        """True where it has no table."""
        with psycopg.connect(**self.address) as connection:
            return not _postgres_names(connection)

    def size(self) -> int:
        """In bytes on the server's disk; a copy of it is smaller."""
        with psycopg.connect(**self.address) as connection:
            return connection.execute("SELECT pg_database_size(current_database())").fetchone()[0]

    def copy(self, to: Path) -> Tables:
        """Copies all that is committed at one instant and returns what was there then; nobody has to wait for it."""
        with psycopg.connect(**self.address) as connection:
            connection.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
            [snapshot] = connection.execute("SELECT pg_export_snapshot()").fetchone()
            tables = _postgres_digests(connection)
            self._run("pg_dump", "--format=custom", f"--snapshot={snapshot}", "--no-owner", "--no-privileges",
                      f"--file={to}")
        return tables

    @contextmanager
    def tried_out(self, copied: Path, near: Path) -> Iterator[Tables]:
        """What a copy holds once it stands in an empty database of its own, which is dropped afterwards."""
        name = f"{self.address['dbname']}_tried_{os.getpid()}"[-60:]
        with psycopg.connect(**self.address, autocommit=True) as connection:
            try:
                connection.execute(sql.SQL("CREATE DATABASE {} TEMPLATE template0").format(sql.Identifier(name)))
            except psycopg.errors.InsufficientPrivilege:
                raise DatabaseTrouble(
                    "The copy could not be tried out: this database user may not make a database. "
                    "Let the server's owner say: ALTER ROLE ... CREATEDB."
                ) from None
            try:
                scratch = PostgresDatabase({**self.address, "dbname": name})
                scratch.put_back(copied)
                with psycopg.connect(**scratch.address) as there:
                    tables = _postgres_digests(there)
                yield tables
            finally:
                connection.execute(sql.SQL("DROP DATABASE {}").format(sql.Identifier(name)))

    def put_back(self, copied: Path) -> None:
        """Fills the empty database; whole or not at all."""
        self._run("pg_restore", "--no-owner", "--no-privileges", "--exit-on-error", "--single-transaction",
                  str(copied))

    def replace(self, copied: Path) -> None:
        """The copy in place of what is there now."""
        with psycopg.connect(**self.address) as connection:
            for name in _postgres_names(connection):
                connection.execute(sql.SQL("DROP TABLE {} CASCADE").format(sql.Identifier(name)))
        self.put_back(copied)

    def counts(self, tables: list[str]) -> dict[str, int]:
        """Rows of those of the tables that are there."""
        with psycopg.connect(**self.address) as connection:
            return {
                name: connection.execute(sql.SQL("SELECT count(*) FROM {}").format(sql.Identifier(name))).fetchone()[0]
                for name in _postgres_names(connection) if name in tables
            }

    def _run(self, program: str, *words: str) -> None:
        """One of PostgreSQL's own programs, on this database; no password stands on a command line."""
        address = {name: value for name, value in self.address.items() if name != "password"}
        environment = os.environ | {"PGPASSWORD": str(self.address.get("password") or "")}
        try:
            subprocess.run(  # noqa: S603
                [program, f"--dbname={psycopg.conninfo.make_conninfo(**address)}", *words],
                env=environment, check=True, capture_output=True, text=True,
            )
        except FileNotFoundError:
            raise DatabaseTrouble(f"{program} is missing: sudo apt-get install postgresql-client.") from None
        except subprocess.CalledProcessError as why:
            lines = [line for line in why.stderr.splitlines() if line.strip()] or ["nothing"]
            raise DatabaseTrouble(f"{program} failed. It said: {lines[0][:300]}") from None


def _postgres_names(connection: psycopg.Connection) -> list[str]:
    rows = connection.execute("SELECT tablename FROM pg_tables WHERE schemaname = current_schema() ORDER BY 1")
    return [name for name, in rows]


def _postgres_digests(connection: psycopg.Connection) -> Tables:
    # So that the same row is the same text on every server.
    connection.execute("SET LOCAL timezone TO 'UTC'; SET LOCAL datestyle TO ISO; SET LOCAL extra_float_digits TO 1")
    return {name: digest(_postgres_rows(connection, name)) for name in _postgres_names(connection)}


def _postgres_rows(connection: psycopg.Connection, table: str) -> Iterator[bytes]:
    with connection.cursor(name="rows") as cursor:
        cursor.itersize = 5000
        cursor.execute(sql.SQL("SELECT whole::text FROM {} AS whole").format(sql.Identifier(table)))
        for (text,) in cursor:
            yield text.encode()


def database_of(connection: BaseDatabaseWrapper) -> SqliteFile | PostgresDatabase:
    """What Django's connection leads to."""
    if connection.vendor == "sqlite":
        return SqliteFile(Path(connection.settings_dict["NAME"]))
    given = connection.get_connection_params()
    return PostgresDatabase({name: value for name, value in given.items() if name not in NOT_AN_ADDRESS})
