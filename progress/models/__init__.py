"""The judgement's facts and its one cache: a file for each thing people do."""
from progress.models.class_log import Attendance, ClassLog, LoadRule, LogEntry
from progress.models.erasures import Erasure
from progress.models.exercises import Exercise, ExerciseVersion, Ladder, LadderStep
from progress.models.follow_ups import FollowUp, FollowUpNote
from progress.models.growth import Height
from progress.models.handover import HandoverText
from progress.models.letters import LetterText
from progress.models.pain import HomeTold, PainAnswer, PainReport, ReturnLadder, ReturnStep, StricterPainRule
from progress.models.pointe_weeks import PointeLadder, PointeStep, PointeTime
from progress.models.programme import ProgrammeEntry
from progress.models.reports import IssuedReport, ReportRun, RunSheet
from progress.models.reviews import Decision, PointSeen, Review
from progress.models.standings import (
    CarriedOver,
    ClassStanding,
    LearnedValue,
    Standing,
    TermClassStanding,
    TermStanding,
)

__all__ = [
    "Attendance", "CarriedOver", "ClassLog", "ClassStanding", "Decision", "Erasure", "Exercise", "ExerciseVersion",
    "FollowUp", "FollowUpNote", "HandoverText", "Height", "HomeTold", "IssuedReport", "Ladder", "LadderStep",
    "LearnedValue", "LetterText", "LoadRule", "LogEntry", "PainAnswer", "PainReport", "PointSeen", "PointeLadder",
    "PointeStep", "PointeTime", "ProgrammeEntry", "ReportRun", "ReturnLadder", "ReturnStep", "Review", "RunSheet",
    "Standing", "StricterPainRule", "TermClassStanding", "TermStanding",
]
