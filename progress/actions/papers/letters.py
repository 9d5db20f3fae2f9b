"""Writes a teacher's own words in a family letter; every version stays."""
from django.db import transaction
from django.utils.translation import gettext as _

from progress.models import LetterText
from progress.queries.papers.letter import latest_text
from studio.actions import Refused
from studio.models import Student, Term, User


@transaction.atomic
def write_letter_text(*, student: Student, term: Term, text: str, after: int | None, by: User) -> LetterText | None:
    """Another version of the teacher's words; the same words again write nothing, and none where there never were any.

    after: the key of the version that the writer had seen. Refused where somebody wrote another one meanwhile.
    """
    Student.objects.select_for_update(no_key=True).get(pk=student.pk)
    last = latest_text(student, term)
    if (last.text if last else "") == text:
        return last
    if (last.pk if last else None) != after:
        raise Refused(
            _("%(name)s wrote here meanwhile. Your text is still in the box. Save again to replace theirs.")
            % {"name": last.written_by.name}
        )
    return LetterText.objects.create(student=student, term=term, text=text, written_by=by)
