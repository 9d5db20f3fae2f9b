"""Binds single papers into one file to print, in a process of its own: what a whole school needs goes with it."""
import subprocess
import sys
from collections.abc import Iterable
from pathlib import Path

import pikepdf

_HOUSE = Path(__file__).parents[2]


def bind(bound: Path, singles: Iterable[Path]) -> None:
    """Writes all pages of `singles`, in their order, to the file `bound`; the same files give the same bytes.

    Raises pikepdf.PdfError where one is no PDF.
    """
    with pikepdf.new() as whole:
        for path in singles:
            with pikepdf.open(path) as single:
                whole.pages.extend(single.pages)
        whole.save(bound, deterministic_id=True)


def bind_apart(bound: Path, singles: Iterable[Path]) -> None:
    """The same in another process. Raises subprocess.CalledProcessError where that fails."""
    words = [sys.executable, "-m", "progress.papers.binding", str(bound)]
    subprocess.run(words, input="\n".join(map(str, singles)), text=True, check=True, cwd=_HOUSE)  # noqa: S603


if __name__ == "__main__":
    bind(Path(sys.argv[1]), map(Path, sys.stdin.read().splitlines()))
