"""The house: the studio, its people, terms, classes and students; knows no measurement and no judgement."""
# Django finds an app's models through this file.
from studio.audit import models as audit
from studio.entrance import keys
from studio.family.models import Consent, GuardianKey, KeyTry
from studio.models.classes import ClassGroup, ClassMeeting, Holiday, Term
from studio.models.deeds import Deed
from studio.models.house import ImportDraft, KeptImport, Studio, User, validate_time_zone
from studio.models.ledger import Tap, TapQuerySet
from studio.models.students import Enrolment, Guardian, Stage, StageChange, Student

__all__ = [
    "ClassGroup", "ClassMeeting", "Consent", "Deed", "Enrolment", "Guardian", "GuardianKey", "Holiday", "ImportDraft",
    "KeptImport", "KeyTry", "Stage", "StageChange", "Student", "Studio", "Tap", "TapQuerySet", "Term", "User",
    "audit", "keys", "validate_time_zone",
]
