"""Lets the demo's families agree, a few of them not to everything; knows no result."""
import datetime as dt

from django.utils import timezone

from progress.demo.house import House
from studio.family.actions import record_consent
from studio.models import Consent, Guardian, Studio


def ask_families(house: House) -> None:
    """Everyone signed at the start of the first term, but for what the script says."""
    told = house.script["families"]
    signed_at = timezone.make_aware(dt.datetime.combine(house.terms[0].starts_on, dt.time(12)))
    Studio.objects.filter(pk=1).update(consent_asked_from=house.terms[0].starts_on)
    never = {(row["student"], row["scope"]) for row in told["no_consent"] if "taken_back_days_ago" not in row}
    for name, student in house.students.items():
        scopes = [scope for scope, _words in Consent.SCOPES if (name, scope) not in never]
        said_by = student.guardians.get().name
        record_consent(
            student=student, scopes=scopes, is_given=True, said_by=said_by, way=Consent.FORM, at=signed_at,
            by=house.owner,
        )
    for row in told["no_consent"]:
        if "taken_back_days_ago" in row:
            student = house.students[row["student"]]
            record_consent(
                student=student, scopes=[row["scope"]], is_given=False, said_by=student.guardians.get().name,
                way=Consent.LETTER, by=house.owner, at=timezone.now() - dt.timedelta(days=row["taken_back_days_ago"]),
            )
    for name, language_code in told["languages"].items():
        Guardian.objects.filter(students=house.students[name]).update(language_code=language_code)
