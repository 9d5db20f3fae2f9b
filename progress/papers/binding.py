"""Binds single papers into one tagged file, in a process of its own: what a whole school needs goes with it."""
import subprocess
import sys
from collections.abc import Iterable
from pathlib import Path

import pikepdf
from pikepdf import Array, Dictionary, Name

_HOUSE = Path(__file__).parents[2]


def bind(bound: Path, singles: Iterable[Path], title: str) -> None:
    """Writes all pages of `singles`, in their order, to the file `bound`; the same files give the same bytes.

    Tagged as the single papers are (PDF/UA-1, ISO 14289-1): each is a part of the document and a line of its outline.
    Raises pikepdf.PdfError where one is no PDF, AttributeError where one is not tagged.
    """
    with pikepdf.new() as whole:
        tree = whole.make_indirect(Dictionary(Type=Name.StructTreeRoot, ParentTree=Dictionary(Nums=Array())))
        document = whole.make_indirect(Dictionary(Type=Name.StructElem, S=Name.Document, P=tree, K=Array()))
        tree.K, whole.Root.StructTreeRoot, whole.Root.MarkInfo = document, tree, Dictionary(Marked=True)
        whole.Root.ViewerPreferences = Dictionary(DisplayDocTitle=True)
        lines = []
        for path in singles:
            with pikepdf.open(path) as single:
                lines.append(pikepdf.OutlineItem(str(single.docinfo.Title), len(whole.pages)))
                whole.Root.Lang = single.Root.Lang
                _rename(single, f"{len(lines)}.")
                _add(whole, single)
        with whole.open_outline() as outline:
            outline.root.extend(lines)
        with whole.open_metadata(set_pikepdf_as_editor=False) as told:
            told["dc:title"], told["pdfuaid:part"] = title, "1"
        whole.save(
            bound, deterministic_id=True, min_version="1.7", object_stream_mode=pikepdf.ObjectStreamMode.generate
        )


def _rename(single: pikepdf.Pdf, before: str) -> None:
    """The cells of a table find their headers by name, and a name stands once in a file."""
    for part in single.objects:
        if not isinstance(part, Dictionary) or part.get("/Type") != Name.StructElem:
            continue
        if "/ID" in part:
            part.ID = pikepdf.String(before + str(part.ID))
        if "/Headers" in part.get("/A", {}):
            part.A.Headers = Array([pikepdf.String(before + str(each)) for each in part.A.Headers])


def _add(whole: pikepdf.Pdf, single: pikepdf.Pdf) -> None:
    """The pages of one paper and its tags: the numbers by which pages and links find theirs go on from the last."""
    tree, first = whole.Root.StructTreeRoot, len(whole.pages)
    numbers = tree.ParentTree.Nums
    shift = int(numbers[-2]) + 1 if len(numbers) else 0
    whole.pages.extend(single.pages)
    for page in whole.pages[first:]:
        page.StructParents += shift
        for link in page.get("/Annots", []):
            link.StructParent += shift
    copied = whole.copy_foreign(single.Root.StructTreeRoot)
    numbers.extend([n if i % 2 else int(n) + shift for i, n in enumerate(copied.ParentTree.Nums)])
    for part in copied.K:
        part.S, part.P, part.Lang = Name.Part, tree.K, single.Root.Lang
        tree.K.K.append(part)


def bind_apart(bound: Path, singles: Iterable[Path], title: str) -> None:
    """The same in another process. Raises subprocess.CalledProcessError where that fails."""
    words = [sys.executable, "-m", "progress.papers.binding", str(bound), title]
    subprocess.run(words, input="\n".join(map(str, singles)), text=True, check=True, cwd=_HOUSE)  # noqa: S603


if __name__ == "__main__":
    bind(Path(sys.argv[1]), map(Path, sys.stdin.read().splitlines()), sys.argv[2])
