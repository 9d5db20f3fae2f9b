"""Appends to the audit; one question to the database, however many students an answer was about."""
from collections.abc import Collection

from studio.audit.models import AuditRow


def append(
    *, outcome: str, page: str, role: str, person_key: int | None = None, students: Collection[int] = (),
    classes: Collection[int] = (), tablet_key: int | None = None, browser: str = "",
) -> None:
    """A row for each student; where there is none, for each class; where there is none either, one."""
    about = [{"student_key": key} for key in sorted(students)] or [{"class_key": key} for key in sorted(classes)]
    AuditRow.objects.bulk_create(
        AuditRow(
            outcome=outcome, page=page[:60], role=role, person_key=person_key, tablet_key=tablet_key,
            browser=browser[:60], **which,
        )
        for which in about or [{}]
    )
