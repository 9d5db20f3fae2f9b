"""Bytes of an XLSX workbook into a table of text; trusts nothing the file says about its own size.

Three passes: unpack with a running count, walk the sheet's XML and count what is in it (this also finds formulas that
were never calculated), and only then let the spreadsheet library read the values.
"""

import datetime as dt
import io
import re
import warnings
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from xml.parsers import expat

from openpyxl import load_workbook
from openpyxl.utils.cell import coordinate_to_tuple

from studio.sheets.cells import (
    HEADING_SEARCH_ROWS,
    MAX_COLUMNS,
    MAX_ROWS,
    MEGABYTE,
    CellTrouble,
    HeadingScore,
    Sheet,
    UnreadableFile,
    clean_cell,
    filled_cells,
    gettext_noop,
    table,
    too_many_columns,
    too_many_rows,
    with_length_trouble,
)

# A full roster unpacks to about 5 MB; a ZIP bomb to gigabytes. Own choice.
MAX_UNPACKED_BYTES = 60 * MEGABYTE
# A workbook of ten sheets has some 40 parts.
MAX_PARTS = 1_000
# The spreadsheet library needs about 10 microseconds a cell, so a sheet of empty cells is refused within seconds.
MAX_CELLS = 2 * MAX_ROWS * MAX_COLUMNS
# The rows a spreadsheet program can hold (Excel: 2 to the power of 20, Microsoft's published limit).
MAX_ROW_NUMBER = 1_048_576
# Elements outside the sheets: a shared text of every cell has two or three.
MAX_OTHER_ELEMENTS = 4 * MAX_CELLS

_CHUNK_BYTES = 256 * 1024
_ERROR_VALUES = frozenset(
    {"#REF!", "#N/A", "#NAME?", "#VALUE!", "#DIV/0!", "#NULL!", "#NUM!", "#SPILL!", "#CALC!"}
)
# How a workbook writes a character that XML cannot hold (ECMA-376 part 1, 22.9.2.19, ST_Xstring).
_ESCAPED_CHARACTER = re.compile(r"_x([0-9A-Fa-f]{4})_")
# Beyond 15 digits a spreadsheet number is no longer exact (IEEE 754 double precision).
_EXACT_DIGITS = 15


def _damaged() -> UnreadableFile:
    return UnreadableFile(
        gettext_noop("This workbook is damaged or not a real .xlsx file. Please save it again.")
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


def read_xlsx(content: bytes, heading_score: HeadingScore | None = None) -> Sheet:
    """The table on the first visible sheet that holds anything; see `studio.sheet_file.read_sheet`."""
    try:
        parts = _unpacked(content)
        rows = _first_filled_sheet(parts)
    except UnreadableFile:
        raise
    except Exception as error:  # the archive and spreadsheet libraries raise a dozen kinds for a damaged file
        raise _damaged() from error
    return table(rows, kind="xlsx", heading_score=heading_score, cells_can_shift=False)


def _unpacked(content: bytes) -> dict[str, bytes]:
    """The XML parts by name. The directory is checked first, then every byte is counted: a directory can lie."""
    try:
        archive = zipfile.ZipFile(io.BytesIO(content))
    except (zipfile.BadZipFile, zlib.error, ValueError, NotImplementedError) as error:
        raise _damaged() from error
    with archive:
        members = archive.infolist()
        if len(members) > MAX_PARTS or sum(member.file_size for member in members) > MAX_UNPACKED_BYTES:
            raise _unpacks_too_large()
        if any(member.filename == "content.xml" for member in members):
            raise UnreadableFile(
                gettext_noop("This is an OpenDocument file. Please save it as .xlsx or CSV.")
            )
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
            raise _damaged()
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


def _refuse_declarations(xml: bytes, *, count_elements: bool) -> None:
    """No document type and so no entity may be declared: nothing can expand or be fetched while the XML is read."""
    seen = 0

    def on_doctype(*_declaration: object) -> None:
        raise _damaged()

    def on_start(_name: str, _attributes: list[str]) -> None:
        nonlocal seen
        seen += 1
        if not count_elements:
            raise _Enough
        if seen > MAX_OTHER_ELEMENTS:
            raise _too_many_cells()

    parser = expat.ParserCreate()
    parser.ordered_attributes = True
    parser.StartDoctypeDeclHandler = on_doctype
    parser.EntityDeclHandler = on_doctype
    parser.StartElementHandler = on_start
    try:
        parser.Parse(xml, True)
    except _Enough:
        return


@dataclass
class _SheetWalk:
    """What one pass over a sheet's XML finds; stops at the first limit that is passed."""

    filled_rows: int = 0
    cell_count: int = 0
    uncalculated: set[tuple[int, int]] = field(default_factory=set)
    row: int = 0
    column: int = 0
    _row_is_filled: bool = False
    _has_formula: bool = False
    _is_text_result: bool = False
    _in_value: bool = False
    _has_value: bool = False

    def start(self, name: str, attributes: dict[str, str]) -> None:
        name = name.rpartition(" ")[2]
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
            raise _damaged()
        self.row, self.column, self._row_is_filled = number, 0, False

    def _start_cell(self, attributes: dict[str, str]) -> None:
        self.cell_count += 1
        if self.cell_count > MAX_CELLS:
            raise _too_many_cells()
        reference = attributes.get("r")
        self.column = coordinate_to_tuple(reference)[1] if reference else self.column + 1
        self._has_formula = self._has_value = False
        self._is_text_result = attributes.get("t") == "str"

    def characters(self, text: str) -> None:
        if self._in_value and text.strip():
            self._has_value = True

    def end(self, name: str) -> None:
        name = name.rpartition(" ")[2]
        if name in ("v", "t"):
            self._in_value = False
        elif name == "c":
            self._end_cell()

    def _end_cell(self) -> None:
        if self._has_formula and not self._has_value and not self._is_text_result:
            self.uncalculated.add((self.row, self.column))
            self._has_value = True
        if self._has_value and not self._row_is_filled:
            self._row_is_filled = True
            self.filled_rows += 1
            # The row of headings and the lines above it are not rows of the roster.
            if self.filled_rows > MAX_ROWS + HEADING_SEARCH_ROWS:
                raise too_many_rows()


def _walked(xml: bytes) -> _SheetWalk:
    walk = _SheetWalk()
    parser = expat.ParserCreate(namespace_separator=" ")
    parser.buffer_text = True
    parser.StartElementHandler = walk.start
    parser.EndElementHandler = walk.end
    parser.CharacterDataHandler = walk.characters
    parser.Parse(xml, True)
    return walk


def _first_filled_sheet(parts: dict[str, bytes]) -> list[tuple[int, list[str], list[CellTrouble]]]:
    """The filled rows of the first visible sheet that has any; [] where none has."""
    repacked = io.BytesIO()
    with zipfile.ZipFile(repacked, "w", zipfile.ZIP_STORED) as archive:
        for name, xml in parts.items():
            archive.writestr(name, xml)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the library warns of parts it leaves out; nothing here needs them
        workbook = load_workbook(repacked, read_only=True, data_only=True, keep_links=False)
        try:
            for worksheet in workbook.worksheets:
                if worksheet.sheet_state != "visible":
                    continue
                walk = _walked(parts[worksheet._worksheet_path])
                if walk.filled_rows:
                    return list(_filled_rows(worksheet, walk.uncalculated))
        finally:
            workbook.close()
    return []


def _filled_rows(
    worksheet, uncalculated: set[tuple[int, int]]
) -> Iterator[tuple[int, list[str], list[CellTrouble]]]:
    worksheet.reset_dimensions()  # a stale or lying dimension would cut the table
    values_by_row = worksheet.iter_rows(min_row=1, min_col=1, max_col=MAX_COLUMNS + 1, values_only=True)
    for number, values in enumerate(values_by_row, start=1):
        columns = [c for c in range(MAX_COLUMNS) if (number, c + 1) in uncalculated] if uncalculated else []
        if not columns and all(value is None for value in values):
            continue
        cells, troubles = with_length_trouble([clean_cell(_text(value)) for value in values])
        if not columns and not filled_cells(cells):
            continue
        if cells[MAX_COLUMNS]:
            raise too_many_columns()
        for column, cell in enumerate(cells):
            if column in columns or cell.startswith("="):
                troubles.append(CellTrouble(column, "formula"))
            elif cell in _ERROR_VALUES:
                troubles.append(CellTrouble(column, "error_value"))
        yield number, cells, troubles


def _text(value: object) -> str:
    """A cell's value as text: dates in ISO form, whole numbers without a decimal point, nothing as ""."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, dt.datetime):
        return value.date().isoformat() if value.time() == dt.time() else value.isoformat(" ", "seconds")
    if isinstance(value, dt.date | dt.time):
        return value.isoformat()
    if isinstance(value, int):
        return str(value) if abs(value) < 10**_EXACT_DIGITS else f"{value:e}"
    if isinstance(value, float):
        whole = value.is_integer() and abs(value) < 10**_EXACT_DIGITS
        return str(int(value)) if whole else format(value, f".{_EXACT_DIGITS}g")
    return _ESCAPED_CHARACTER.sub(lambda found: chr(int(found[1], 16)), str(value))
