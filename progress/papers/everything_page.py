"""Lays out and packs everything that is kept about one student; knows the template, no database and no clock."""
import io
import json
import zipfile
from collections.abc import Mapping, Sequence

from django.core.serializers.json import DjangoJSONEncoder

from progress.papers.page import page_html
from progress.queries.everything import Section
from progress.queries.hanging import Table


def everything_html(
    student: str, sections: Sequence[Section], *, studio: str, printed: str, is_lacking: bool = False
) -> str:
    """The readable copy, in the active language. is_lacking: some letters are gaps, which is said above it."""
    return page_html(
        "everything", student=student, sections=sections, studio=studio, printed=printed, is_lacking=is_lacking,
    )


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
