"""`python -m tests.bench.mutations`: changes one line of the house at a time and sees whether a test notices.

Each change is what a slip of the hand would make: a limit that takes in its own day, a condition turned round or
forgotten, a number one off. They are drawn by a seed, so that a run can be repeated, and tried in a copy of the
checkout against the test files nearest to them. Printed is what nobody noticed, to be read one by one: some changes
change nothing that could be seen.
"""
from __future__ import annotations

import argparse
import ast
import os
import random
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from importlib.util import cache_from_source
from pathlib import Path

CHECKOUT = Path(__file__).resolve().parents[2]
# Not part of what is changed, or large.
LEFT_BEHIND = shutil.ignore_patterns(".git", ".venv", "var", "__pycache__", ".hypothesis", ".ruff_cache")


@dataclass(frozen=True)
class Part:
    """What is changed, and which tests are asked, the quickest first; both from the checkout's root."""

    files: tuple[str, ...]
    tests: tuple[str, ...]


PARTS = {
    "pain": Part(
        ("progress/rules/pain.py", "progress/rules/pain_returns.py", "progress/actions/pain.py",
         "progress/actions/answering.py"),
        ("progress/rules", "tests/progress/test_resting.py", "tests/progress/test_pain_table.py",
         "tests/progress/test_pain_reports.py",
         "tests/progress/test_answering.py", "tests/progress/test_pain_never_hides.py",
         "tests/progress/test_returning.py"),
    ),
    "resting": Part(
        ("progress/rules/resting.py", "progress/queries/resting.py"),
        ("progress/rules/resting.py", "tests/progress/test_resting.py", "tests/progress/test_pain_table.py",
         "tests/progress/test_answering.py", "tests/progress/test_returning.py", "tests/progress/test_run.py",
         "tests/progress/test_class_log.py"),
    ),
    "permissions": Part(
        ("studio/permissions.py",),
        ("tests/studio/test_reach.py", "tests/studio/test_guessing.py", "tests/test_access.py",
         "tests/studio/test_tablets.py", "tests/progress/test_digest.py"),
    ),
    "consent": Part(
        ("studio/family/queries.py", "studio/family/actions.py", "studio/family/device.py"),
        ("tests/family/test_consents.py", "tests/family/test_before_consent.py", "tests/family/test_links.py",
         "tests/family/test_cards.py", "tests/family/test_family_page.py"),
    ),
    "erasing": Part(
        ("progress/actions/erasing.py", "progress/queries/hanging.py"),
        ("tests/progress/test_erasing.py", "tests/progress/test_copy_of_everything.py"),
    ),
    "measuring": Part(
        ("progress/actions/measuring.py", "screening/scoring.py"),
        ("screening/scoring.py", "tests/progress/test_measuring.py", "tests/progress/test_outbox_answers.py",
         "tests/progress/test_absent.py", "tests/progress/test_despite_rest.py"),
    ),
    "ledger": Part(
        ("studio/ledger.py", "studio/models/ledger.py", "progress/actions/day.py"),
        ("tests/progress/test_ledger.py", "tests/progress/test_late_but_true.py", "tests/progress/test_class_log.py",
         "tests/progress/test_outbox_answers.py", "tests/progress/test_absent.py"),
    ),
    "engine": Part(
        tuple(sorted(str(path.relative_to(CHECKOUT)) for path in CHECKOUT.glob("progress/judging/engine/[!_]*.py"))),
        ("progress/judging/engine", "tests/progress/test_judgement.py", "tests/progress/test_trend_readings.py",
         "tests/progress/test_trend_terms.py", "tests/progress/test_class_effects.py",
         "tests/progress/test_trend_filter.py", "tests/progress/test_faces.py", "tests/bench/test_judge.py"),
    ),
}


# --- changes -------------------------------------------------------------------------------------

TURNED = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.In: ast.NotIn, ast.NotIn: ast.In, ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.And: ast.Or, ast.Or: ast.And,
    ast.BitAnd: ast.BitOr, ast.BitOr: ast.BitAnd, ast.Add: ast.Sub, ast.Sub: ast.Add,
}
LOOKUPS = {"__gte": "__gt", "__gt": "__gte", "__lte": "__lt", "__lt": "__lte"}
QUESTIONS = {"filter", "exclude", "get"}


@dataclass(frozen=True)
class Change:
    """`after` in the place of the bytes from `start` to `end` of a file."""

    path: str
    line: int
    start: int
    end: int
    before: str
    after: str

    def __str__(self) -> str:
        return f"{self.path}:{self.line}: {self.before}  ->  {self.after}"


def changes_of(path: str, text: str) -> list[Change]:
    """Every change that may be drawn for a file, in its order."""
    starts = [0]
    for line in text.encode().splitlines(keepends=True):
        starts.append(starts[-1] + len(line))
    found = []
    for node in _in_the_body(ast.parse(text)):
        start, end = starts[node.lineno - 1] + node.col_offset, starts[node.end_lineno - 1] + node.end_col_offset
        for after in _slips(node):
            before = " ".join(ast.unparse(node).split())
            # In brackets, for what stood alone may have bound less tightly where it stands.
            written = ast.unparse(after)
            is_bare = isinstance(after, (ast.Constant, ast.Call))
            found.append(Change(path, node.lineno, start, end, before, written if is_bare else f"({written})"))
    return found


def _in_the_body(node: ast.AST) -> Iterator[ast.expr]:
    """Every expression that runs: no decorators, annotations or f-strings."""
    for name, value in ast.iter_fields(node):
        if name in ("decorator_list", "annotation", "returns") or isinstance(node, ast.JoinedStr):
            continue
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.expr):
                yield child
            if isinstance(child, ast.AST):
                yield from _in_the_body(child)


def _slips(node: ast.expr) -> Iterator[ast.expr]:
    match node:
        case ast.Compare(left=left, ops=[op], comparators=right) if type(op) in TURNED:
            yield ast.Compare(left, [TURNED[type(op)]()], right)
        case ast.BoolOp(op=op, values=values):
            yield ast.BoolOp(TURNED[type(op)](), values)
        case ast.BinOp(left=left, op=op, right=right) if type(op) in TURNED:
            yield ast.BinOp(left, TURNED[type(op)](), right)
        case ast.UnaryOp(op=ast.Not(), operand=operand):
            yield operand
        case ast.IfExp(test=test, body=body, orelse=other):
            yield ast.IfExp(test, other, body)
        case ast.Constant(value=bool() as value):
            yield ast.Constant(not value)
        case ast.Constant(value=int() as value):
            yield ast.Constant(value + 1)
        case ast.Call(func=ast.Attribute(attr=name) as func, args=args, keywords=keywords) if name in QUESTIONS:
            yield from _other_questions(func, args, keywords)
        case ast.Call(func=ast.Name(id="Q") as func, args=args, keywords=keywords):
            yield from _other_questions(func, args, keywords)


def _other_questions(func: ast.expr, args: list, keywords: list[ast.keyword]) -> Iterator[ast.expr]:
    """The same question to the database with a limit that takes in its own day or no longer does, or without it."""
    for at, asked in enumerate(keywords):
        rest = keywords[:at], keywords[at + 1 :]
        name = asked.arg or ""
        for ending, other in LOOKUPS.items():
            if name.endswith(ending):
                turned = ast.keyword(name.removesuffix(ending) + other, asked.value)
                yield ast.Call(func, args, [*rest[0], turned, *rest[1]])
        if len(keywords) + len(args) > 1:
            yield ast.Call(func, args, [*rest[0], *rest[1]])


def drawn(parts: list[str], count: int, seed: int) -> list[tuple[str, Change]]:
    """As many changes of each part, or all that it has."""
    draw, found = random.Random(seed), []
    for number, name in enumerate(parts):
        there = [each for path in PARTS[name].files for each in changes_of(path, (CHECKOUT / path).read_text())]
        share = count // len(parts) + (number < count % len(parts))
        found += [(name, each) for each in draw.sample(there, min(share, len(there)))]
    return found


# --- trying them ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class Copy:
    """A copy of the checkout in which a file may be changed for as long as its tests run."""

    root: Path
    patience_seconds: float

    def write(self, path: str, text: bytes) -> None:
        there = self.root / path
        there.write_bytes(text)
        # A change of the same length in the same second would be taken for the compiled file beside it.
        Path(cache_from_source(str(there))).unlink(missing_ok=True)

    def notice(self, tests: tuple[str, ...]) -> bool:
        """Whether any of the tests fails, breaks, or never ends."""
        environment = {name: value for name, value in os.environ.items()
                       if not name.startswith(("RISEBOOK_", "DATABASE_"))}
        database = self.root / "var"
        environment |= {"RISEBOOK_VAR_DIR": str(database), "RISEBOOK_STATIC_MANIFEST": "no"}
        command = [sys.executable, "-m", "pytest", "-q", "-x", "--reuse-db", "-p", "no:cacheprovider", *tests]
        try:
            ended = subprocess.run(command, cwd=self.root, env=environment, capture_output=True, text=True,
                                   timeout=self.patience_seconds, check=False)
        except subprocess.TimeoutExpired:
            # It may have been killed with rows in it.
            shutil.rmtree(database)
            database.mkdir()
            return True
        if ended.returncode not in (0, 1, 2):
            raise RuntimeError(ended.stdout[-2000:] + ended.stderr[-2000:])
        return ended.returncode != 0

    def notices(self, change: Change, tests: tuple[str, ...]) -> bool:
        whole = (CHECKOUT / change.path).read_bytes()
        self.write(change.path, whole[: change.start] + change.after.encode() + whole[change.end :])
        try:
            return self.notice(tests)
        finally:
            self.write(change.path, whole)


def try_all(chosen: list[tuple[str, Change]], patience_seconds: float) -> list[Change]:
    """Those that no test noticed. A part whose tests fail by themselves would notice everything, so it is refused."""
    unnoticed, began = [], time.monotonic()
    with tempfile.TemporaryDirectory(prefix="risebook-changed-") as folder:
        copy = Copy(Path(folder) / "checkout", patience_seconds)
        shutil.copytree(CHECKOUT, copy.root, ignore=LEFT_BEHIND)
        (copy.root / "var").mkdir()
        for name in dict.fromkeys(name for name, _change in chosen):
            if copy.notice(PARTS[name].tests):
                raise SystemExit(f"The tests of {name} fail as they are.")
        for number, (name, change) in enumerate(chosen, start=1):
            was_noticed = copy.notices(change, PARTS[name].tests)
            words = "noticed" if was_noticed else "UNNOTICED"
            print(f"{number}/{len(chosen)} {time.monotonic() - began:5.0f} s {name}: {words}: {change}", flush=True)
            unnoticed += [] if was_noticed else [change]
    return unnoticed


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("parts", nargs="*", metavar="PART", help="all of them where none is named")
    asked.add_argument("--count", type=int, default=100)
    asked.add_argument("--seed", type=int, default=7)
    asked.add_argument("--patience", type=float, default=900, help="seconds after which tests never end")
    asked.add_argument("--list", action="store_true", help="only say what would be changed")
    words = asked.parse_args()
    if unknown := set(words.parts) - set(PARTS):
        asked.error(f"there is no part {', '.join(sorted(unknown))}; there are {', '.join(PARTS)}")
    chosen = drawn(list(words.parts or PARTS), words.count, words.seed)
    if words.list:
        print(*(f"{name}: {change}" for name, change in chosen), sep="\n")
        return
    unnoticed = try_all(chosen, words.patience)
    print(f"\nseed {words.seed}: {len(unnoticed)} of {len(chosen)} changes were not noticed")
    print(*unnoticed, sep="\n")


if __name__ == "__main__":
    main()
