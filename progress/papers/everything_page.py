"""Lays out and packs everything that is kept about one student; knows the template, no database and no clock."""
import io
import json
import zipfile
from collections.abc import Mapping, Sequence

from django.core.serializers.json import DjangoJSONEncoder
from django.template.loader import render_to_string
from django.utils.translation import get_language

from progress.queries.hanging import Table

# Looks at her pages fill a book; on paper the last ones, in the JSON all.
ROWS_ON_PAPER = 200


def everything_html(student: str, tables: Sequence[Table], *, studio: str, printed: str) -> str:
    """The readable copy: a section for each kind of row, every value that is kept."""
    return render_to_string("progress/paper/everything.html", {
        "student": student, "studio": studio, "printed": printed, "language": get_language(), "most": ROWS_ON_PAPER,
        "sections": [(table.title, len(table.rows), _on_paper(table)) for table in tables if table.rows],
    })


def _on_paper(table: Table) -> list[dict]:
    # An issued report is a whole page of HTML, and a line of the judge a page of numbers: both are in the JSON.
    left_out = {"issuedreport": "page", "standing": "line"}.get(table.key)
    return [{name: row[name] for name in row if name != left_out} for row in table.rows[-ROWS_ON_PAPER:]]


def everything_json(student: str, tables: Sequence[Table]) -> str:
    content = {"student": student, **{table.key: table.rows for table in tables}}
    return json.dumps(content, cls=DjangoJSONEncoder, ensure_ascii=False, indent=1)


def packed(files: Mapping[str, bytes]) -> bytes:
    """A ZIP archive of these files, by name."""
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return file.getvalue()
