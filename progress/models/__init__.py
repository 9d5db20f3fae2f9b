"""The judgement's facts and its one cache: a file for each thing people do."""
from progress.models.follow_ups import FollowUp, FollowUpNote
from progress.models.pain import PainAnswer, PainReport
from progress.models.standings import ClassStanding, LearnedValue, Standing

__all__ = ["ClassStanding", "FollowUp", "FollowUpNote", "LearnedValue", "PainAnswer", "PainReport", "Standing"]
