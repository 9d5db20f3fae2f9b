"""Forms about what hurts: a report, and its answer."""
import datetime as dt

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from progress.forms import CloseForm
from progress.forms.way_back import ClearanceForm
from progress.models import FollowUp, PainAnswer, ReturnLadder, ReturnStep
from progress.queries.way_back import is_on_pointe, steps_to_show
from progress.rules import feet, pain, red_words, way_back


class PainForm(forms.Form):
    """What was tapped. A place, in words perhaps, and a feel are needed, or a sign alone; the rest may stay open."""

    key = forms.UUIDField()
    region = forms.MultipleChoiceField(choices=[(key, key) for key in feet.PLACE_KEYS], required=False)
    feels = forms.MultipleChoiceField(choices=[(key, gettext_lazy(words)) for key, words in pain.FEELS], required=False)
    signs = forms.MultipleChoiceField(choices=[(key, gettext_lazy(words)) for key, words in pain.SIGNS], required=False)
    not_meant = forms.MultipleChoiceField(
        choices=[(key, key) for key in red_words.PATTERNS], required=False,
    )
    at_count = forms.IntegerField(min_value=0, max_value=999, required=False)
    intensity = forms.IntegerField(min_value=0, max_value=10, required=False)
    stopped = forms.ChoiceField(choices=[("", ""), *pain.STOPPED], required=False)
    since = forms.ChoiceField(choices=[("", ""), *pain.SINCE], required=False)
    note = forms.CharField(max_length=300, required=False, strip=True)

    def clean(self):
        cleaned = super().clean()
        # A sign says enough, and so do a limp or a knock to the head: nobody has to find a place to stop a child.
        enough = pain.ENOUGH_FEELS & set(cleaned.get("feels", ())) or pain.HEAD_PLACES & set(cleaned.get("region", ()))
        if cleaned.get("signs") or enough:
            return cleaned
        if not cleaned.get("feels") and "feels" not in self.errors:
            self.add_error("feels", _("Tap what it feels like."))
        if not cleaned.get("region") and not cleaned.get("note") and "region" not in self.errors:
            self.add_error("region", _("Tap where it hurts, or write where."))
        return cleaned


class AnswerForm(ClearanceForm, CloseForm):
    """Closes pain: who answered it, what a clinician said, and on which step the student comes back."""

    seen = forms.IntegerField(widget=forms.HiddenInput, required=False)
    answer = forms.ChoiceField(
        label=gettext_lazy("Who cleared it?"), widget=forms.RadioSelect, choices=[],
        error_messages={"required": gettext_lazy("Say who cleared it before you close it.")},
    )
    step = forms.TypedChoiceField(
        label=gettext_lazy("Comes back on which step?"), choices=[], coerce=int, empty_value=None,
        error_messages={"required": gettext_lazy("Say on which step.")},
    )
    # The browser cannot know which of these a choice of answer asks for.
    use_required_attribute = False

    def __init__(
        self, *args, follow_up: FollowUp, referred: str, may_overrule: bool, ladder: ReturnLadder,
        settles_from: dt.date | None, today: dt.date, now: ReturnStep | None = None, **kwargs,
    ):
        super().__init__(*args, **kwargs)
        self.may_overrule = may_overrule
        is_too_soon = settles_from is not None and today < settles_from
        # Said beside the choices: from when on a teacher may settle it.
        self.from_on = settles_from if is_too_soon and not referred else None
        reports = list(follow_up.pain_reports.all())
        # What the page showed: a report that came after it was not answered by this closing.
        self.fields["seen"].initial = max((report.pk for report in reports), default=0)
        self.fields["answer"].choices = [
            (kind, words) for kind, words in PainAnswer.ANSWERS
            if pain.may_answer(kind, referred=referred, may_overrule=may_overrule)
            and (kind != PainAnswer.OWNER or referred or is_too_soon)
            and (kind != PainAnswer.TEACHER or not (referred or is_too_soon))
        ]
        if self.is_bound:
            kind = self.data.get("answer")
            self.fields["step"].required = kind != PainAnswer.MISTAKE
            for name in ("said_by", "said_on", "allowed", "allows"):
                self.fields[name].required = kind == PainAnswer.CLINICIAN
        steps = [(at, f"{at}  {_(step['words'])}") for at, step in steps_to_show(ladder, follow_up.student)]
        # After a stop sign nobody is in full class again because nobody chose.
        is_chosen = bool(referred) or follow_up.kind == FollowUp.STOP_SIGN
        self.fields["step"].choices = [("", _("choose")), *steps] if is_chosen else steps
        self.fields["step"].initial = "" if is_chosen else now.step if now else ladder.last
        self.ladder, self.student = ladder, follow_up.student
        if follow_up.kind == FollowUp.PAIN_WATCHED:
            self.fields["answer"].choices = [
                (kind, _("asked, fine") if kind == PainAnswer.TEACHER else words)
                for kind, words in self.fields["answer"].choices
            ]

    def clean(self):
        cleaned = super().clean()
        if cleaned.get("answer") == PainAnswer.CLINICIAN and cleaned.get("step") and cleaned.get("allows"):
            load = self.ladder.steps[cleaned["step"]]["loads"]
            if not way_back.is_within(load, cleaned["allows"], on_pointe=is_on_pointe(self.student)):
                self.add_error("step", _("This step is more than the clinician allowed."))
        return cleaned
