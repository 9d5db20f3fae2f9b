"""What may be taken out of a packed workbook, and what an XLSX sheet's XML holds; trusts nothing it says."""

import io
import re
import zipfile
import zlib
from dataclasses import dataclass, field
from xml.parsers import expat

from studio.sheets.cells import (
    HEADING_SEARCH_ROWS,
    MAX_COLUMNS,
    MAX_ROWS,
    MEGABYTE,
    UnreadableFile,
    gettext_noop,
    too_many_rows,
)

# A full roster unpacks to about 5 MB; a ZIP bomb to gigabytes. Own choice.
MAX_UNPACKED_BYTES = 60 * MEGABYTE
# A workbook of ten sheets has some 40 parts.
MAX_PARTS = 1_000
# Room for as many empty cells with a border or a colour as there may be filled ones. Own choice.
MAX_CELLS = 2 * MAX_ROWS * MAX_COLUMNS
# The rows a spreadsheet can have (Excel: 2 to the power of 20, Microsoft's published limit).
MAX_ROW_NUMBER = 1_048_576
# Elements of a part that is no sheet: a shared text for every filled cell has two or three.
MAX_OTHER_ELEMENTS = 2 * MAX_CELLS
# A sheet has its cells some eight elements deep; text in text in text is no table. Own choice.
MAX_DEPTH = 100
# Columns of a spreadsheet go up to XFD (Microsoft's published limit).
_REFERENCE = re.compile(r"([A-Z]{1,3})([1-9]\d{0,6})")
_CHUNK_BYTES = 256 * 1024


def damaged() -> UnreadableFile:
    return UnreadableFile(
        gettext_noop("This workbook is damaged, or is none. Please save it again, as .xlsx or CSV.")
    )


def _unpacks_too_large() -> UnreadableFile:
    return UnreadableFile(
        gettext_noop(
            "The workbook is too large when unpacked (limit %(limit)s MB). Please save only the table."
        ),
        limit=MAX_UNPACKED_BYTES // MEGABYTE,
    )


def _too_many_cells() -> UnreadableFile:
    return UnreadableFile(
        gettext_noop(
            "The sheet has too many cells, most of them perhaps empty. Please copy the table to a new file."
        )
    )


def unpacked_parts(content: bytes) -> dict[str, bytes]:
    """The XML parts of a workbook by name.

    The directory is checked first, then every byte is counted, because a directory can lie; then no part may
    declare a document type. Raises UnreadableFile for all of these and for a protected workbook.
    """
    try:
        archive = zipfile.ZipFile(io.BytesIO(content))
    except (zipfile.BadZipFile, zlib.error, ValueError, NotImplementedError) as error:
        raise damaged() from error
    with archive:
        members = archive.infolist()
        if len(members) > MAX_PARTS or sum(member.file_size for member in members) > MAX_UNPACKED_BYTES:
            raise _unpacks_too_large()
        wanted = [member for member in members if member.filename.lower().endswith((".xml", ".rels"))]
        if any(member.flag_bits & 1 for member in wanted):
            raise UnreadableFile(
                gettext_noop("The workbook is protected by a password. Please save it without one.")
            )
        return _parts(archive, wanted)


def _parts(archive: zipfile.ZipFile, members: list[zipfile.ZipInfo]) -> dict[str, bytes]:
    parts: dict[str, bytes] = {}
    total = 0
    for member in members:
        if member.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            raise damaged()
        pieces = []
        with archive.open(member) as stream:
            while piece := stream.read(_CHUNK_BYTES):
                total += len(piece)
                if total > MAX_UNPACKED_BYTES:
                    raise _unpacks_too_large()
                pieces.append(piece)
        parts[member.filename] = b"".join(pieces)
        _refuse_declarations(parts[member.filename], count_elements="/worksheets/" not in member.filename)
    return parts


class _Enough(Exception):
    """Stops a walk early."""


def column_of(reference: str) -> int:
    """The column, from 1, of a cell's reference such as "C4"; UnreadableFile for what is none.

    >>> column_of("C4"), column_of("XFD1048576")
    (3, 16384)
    """
    found = _REFERENCE.fullmatch(reference)
    if found is None:
        raise damaged()
    column = 0
    for letter in found[1]:
        column = 26 * column + ord(letter) - ord("A") + 1
    return column


def _refuse_declarations(xml: bytes, *, count_elements: bool) -> None:
    """No document type, so no entity either: nothing can expand or be fetched while the XML is read."""
    seen = depth = 0

    def on_doctype(*_declaration: object) -> None:
        raise damaged()

    def on_start(_name: str, _attributes: list[str]) -> None:
        nonlocal seen, depth
        seen, depth = seen + 1, depth + 1
        if not count_elements:
            raise _Enough
        if seen > MAX_OTHER_ELEMENTS:
            raise _too_many_cells()
        if depth > MAX_DEPTH:
            raise damaged()

    def on_end(_name: str) -> None:
        nonlocal depth
        depth -= 1

    parser = expat.ParserCreate()
    parser.ordered_attributes = True
    parser.StartDoctypeDeclHandler = on_doctype
    parser.EntityDeclHandler = on_doctype
    parser.StartElementHandler = on_start
    parser.EndElementHandler = on_end
    try:
        parser.Parse(xml, True)
    except _Enough:
        return


@dataclass
class SheetWalk:
    """What one pass over a sheet's XML finds; stops at the first limit that is passed."""

    filled_rows: int = 0
    cell_count: int = 0
    uncalculated: set[tuple[int, int]] = field(default_factory=set)
    errors: set[tuple[int, int]] = field(default_factory=set)
    row: int = 0
    column: int = 0
    _row_is_filled: bool = False
    _has_formula: bool = False
    _is_text_result: bool = False
    _in_value: bool = False
    _has_value: bool = False
    _is_error: bool = False
    _depth: int = 0
    _elements: int = 0

    def start(self, name: str, attributes: dict[str, str]) -> None:
        name = name.rpartition(" ")[2]
        self._depth, self._elements = self._depth + 1, self._elements + 1
        if self._depth > MAX_DEPTH:
            raise damaged()
        if self._elements > 4 * MAX_CELLS:
            raise _too_many_cells()
        if name == "row":
            self._start_row(attributes)
        elif name == "c":
            self._start_cell(attributes)
        elif name == "f":
            self._has_formula = True
        elif name in ("v", "t"):
            self._in_value = True

    def _start_row(self, attributes: dict[str, str]) -> None:
        number = int(attributes.get("r", self.row + 1))
        if not self.row < number <= MAX_ROW_NUMBER:
            raise damaged()
        self.row, self.column, self._row_is_filled = number, 0, False

    def _start_cell(self, attributes: dict[str, str]) -> None:
        self.cell_count += 1
        if self.cell_count > MAX_CELLS:
            raise _too_many_cells()
        reference = attributes.get("r")
        self.column = column_of(reference) if reference else self.column + 1
        self._has_formula = self._has_value = False
        self._is_text_result = attributes.get("t") == "str"
        self._is_error = attributes.get("t") == "e"

    def characters(self, text: str) -> None:
        if self._in_value and text.strip():
            self._has_value = True

    def end(self, name: str) -> None:
        name = name.rpartition(" ")[2]
        self._depth -= 1
        if name in ("v", "t"):
            self._in_value = False
        elif name == "c":
            self._end_cell()

    def _end_cell(self) -> None:
        if self._has_formula and not self._has_value and not self._is_text_result:
            self.uncalculated.add((self.row, self.column))
            self._has_value = True
        if self._is_error:
            self.errors.add((self.row, self.column))
        if self._has_value and not self._row_is_filled:
            self._row_is_filled = True
            self.filled_rows += 1
            # The row of headings and the lines above it are not rows of the roster.
            if self.filled_rows > MAX_ROWS + HEADING_SEARCH_ROWS:
                raise too_many_rows()


def walked(xml: bytes) -> SheetWalk:
    """One pass over a sheet's XML; UnreadableFile at the first limit, expat.ExpatError for broken XML."""
    walk = SheetWalk()
    parser = expat.ParserCreate(namespace_separator=" ")
    parser.buffer_text = True
    parser.StartElementHandler = walk.start
    parser.EndElementHandler = walk.end
    parser.CharacterDataHandler = walk.characters
    parser.Parse(xml, True)
    return walk
