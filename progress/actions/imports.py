"""Writes what a file brings in, then judges the classes it touches: one transaction, all or nothing."""
import datetime as dt

from django.db import transaction
from django.utils import timezone

from progress.actions.learning import learn_values
from progress.actions.standings import judging_classes, refresh_standings
from screening import actions as screening_actions
from screening.results_check import ResultsCheck
from studio import actions as studio_actions
from studio.models import ClassGroup, ImportDraft, KeptImport, Student, Term, User
from studio.roster_check import RosterCheck


@transaction.atomic
def import_roster(
    *, check: RosterCheck, filename: str, class_group: ClassGroup, term: Term, by: User | None,
    draft: ImportDraft | None = None,
) -> KeptImport:
    """The roster's additions and changes; a changed stage changes targets, so those classes are judged anew."""
    written = studio_actions.import_roster(plan=check.plan, term=term, by=by, leaving=check.leaving)
    restaged = [
        row.student_pk for row in check.plan
        if row.student_pk and any(difference.field == "stage" for difference in row.differences)
    ]
    refresh_standings(class_ids=judging_classes(restaged), over_on=timezone.localdate())
    if draft is not None:
        draft.delete()
    return studio_actions.keep_import(
        kind="roster", filename=filename, check=check, class_group=class_group, term=term, by=by, written=written)


@transaction.atomic
def import_results(
    *, check: ResultsCheck, filename: str, class_group: ClassGroup, by: User | None, learned_on: dt.date,
    draft: ImportDraft | None = None,
) -> KeptImport:
    """The file's additions and corrections; they are judged, and the studio's typical values learn from them."""
    plan = check.plan
    touched = {row.student.pk for row in plan if row.student is not None}
    # Students first, by key, then classes: the order of lock_judgement.
    list(Student.objects.filter(pk__in=touched).order_by("pk").select_for_update(no_key=True))
    before = judging_classes(touched)
    made = screening_actions.import_results(plan=plan, by=by)
    after = judging_classes({result.student_id for result in made})
    refresh_standings(class_ids=before | after, since=min((result.taken_on for result in made), default=None))
    learn_values(learned_on=learned_on)
    if draft is not None:
        draft.delete()
    return studio_actions.keep_import(
        kind="results", filename=filename, check=check, class_group=class_group, term=None, by=by,
        written={"results": [result.pk for result in made]})
