"""Forms about what hurts: a report, its answer, a step on the way back, the owner's ladder."""
import datetime as dt

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from progress.forms import CloseForm
from progress.models import FollowUp, PainAnswer, ReturnLadder, ReturnStep
from progress.rules import feet, pain, red_words
from studio.forms import DayInput, refuse_unlikely_day


class PainForm(forms.Form):
    """What was tapped. A place or "somewhere else" and a feel are needed; the rest may stay open."""

    key = forms.UUIDField()
    region = forms.MultipleChoiceField(choices=[(key, key) for key in feet.PLACE_KEYS], required=False)
    feels = forms.MultipleChoiceField(choices=[(key, gettext_lazy(words)) for key, words in pain.FEELS])
    signs = forms.MultipleChoiceField(choices=[(key, gettext_lazy(words)) for key, words in pain.SIGNS], required=False)
    not_meant = forms.MultipleChoiceField(
        choices=[(key, key) for key in red_words.PATTERNS], required=False,
    )
    at_count = forms.IntegerField(min_value=0, max_value=999, required=False)
    intensity = forms.IntegerField(min_value=0, max_value=10, required=False)
    stopped = forms.ChoiceField(choices=[("", ""), *pain.STOPPED], required=False)
    since = forms.ChoiceField(choices=[("", ""), *pain.SINCE], required=False)
    note = forms.CharField(max_length=300, required=False, strip=True)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["feels"].error_messages["required"] = _("Tap what it feels like.")

    def clean(self):
        cleaned = super().clean()
        if not cleaned.get("region") and not cleaned.get("note") and "region" not in self.errors:
            self.add_error("region", _("Tap where it hurts, or write where."))
        return cleaned


class AnswerForm(CloseForm):
    """Closes pain: who answered it, what a clinician said, and on which step she comes back."""

    seen = forms.IntegerField(widget=forms.HiddenInput, required=False)
    answer = forms.ChoiceField(
        label=gettext_lazy("Who cleared it?"), widget=forms.RadioSelect, choices=[],
        error_messages={"required": gettext_lazy("Say who cleared it before you close it.")},
    )
    said_by = forms.CharField(label=gettext_lazy("Clinician’s name"), max_length=120)
    said_on = forms.DateField(label=gettext_lazy("Seen on"), widget=DayInput(), validators=[refuse_unlikely_day])
    allowed = forms.CharField(label=gettext_lazy("What is allowed now"), max_length=300)
    step = forms.TypedChoiceField(
        label=gettext_lazy("Comes back on which step?"), choices=[], coerce=int, empty_value=None,
        error_messages={"required": gettext_lazy("Say on which step.")},
    )
    # The browser cannot know which of these a choice of answer asks for.
    use_required_attribute = False

    def __init__(
        self, *args, follow_up: FollowUp, referred: str, may_overrule: bool, ladder: ReturnLadder,
        settles_from: dt.date | None, today: dt.date, **kwargs,
    ):
        super().__init__(*args, **kwargs)
        self.may_overrule = may_overrule
        is_too_soon = settles_from is not None and today < settles_from
        # Said beside the choices: from when on a teacher may settle it.
        self.from_on = settles_from if is_too_soon and not referred else None
        reports = list(follow_up.pain_reports.all())
        # What the page showed: a report that came after it was not answered by whoever closes.
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
            for name in ("said_by", "said_on", "allowed"):
                self.fields[name].required = kind == PainAnswer.CLINICIAN
        steps = [(at, f"{at}  {_(step['words'])}") for at, step in enumerate(ladder.steps)]
        # After a stop sign nobody is in full class again because nobody chose.
        is_chosen = bool(referred) or follow_up.kind == FollowUp.STOP_SIGN
        self.fields["step"].choices = [("", _("choose")), *steps] if is_chosen else steps
        self.fields["step"].initial = "" if is_chosen else ladder.last


class StepForm(forms.Form):
    """A class without pain, or a step back: its day and a word about it."""

    move = forms.ChoiceField(choices=[(ReturnStep.UP, ""), (ReturnStep.BACK, "")])
    on = forms.DateField(
        label=gettext_lazy("Day of the class"), widget=DayInput(), validators=[refuse_unlikely_day]
    )
    note = forms.CharField(label=gettext_lazy("A note"), max_length=300, required=False, strip=True)

    def __init__(self, *args, today: dt.date, **kwargs):
        super().__init__(*args, **kwargs)
        self.today = today

    def clean_on(self) -> dt.date:
        if self.cleaned_data["on"] > self.today:
            raise forms.ValidationError(_("This day is still to come."))
        return self.cleaned_data["on"]


class LadderForm(forms.Form):
    """The owner's ladder, one step a line, and which clinician approved it."""

    steps = forms.CharField(
        label=gettext_lazy("Steps, one a line, the gentlest first; the last one is full class"),
        widget=forms.Textarea(attrs={"rows": 10}), max_length=3000,
    )
    loads_both_from = forms.IntegerField(
        label=gettext_lazy("First step that loads two feet"), min_value=0, max_value=30,
        help_text=gettext_lazy("Counted from 0, the first line."),
    )
    loads_one_from = forms.IntegerField(
        label=gettext_lazy("First step that loads one foot"), min_value=0, max_value=30,
        help_text=gettext_lazy("From here on she is measured on one foot again."),
    )
    approved_by = forms.CharField(label=gettext_lazy("Approved by (a clinician)"), max_length=120, required=False)
    approved_on = forms.DateField(
        label=gettext_lazy("Approved on"), widget=DayInput(), required=False, validators=[refuse_unlikely_day]
    )

    def clean_steps(self) -> list[str]:
        lines = [" ".join(line.split()) for line in self.cleaned_data["steps"].splitlines()]
        lines = [line for line in lines if line]
        if not 2 <= len(lines) <= 20:
            raise forms.ValidationError(_("Between 2 and 20 steps."))
        return lines

    def clean(self):
        cleaned = super().clean()
        both, one = cleaned.get("loads_both_from"), cleaned.get("loads_one_from")
        if both is not None and one is not None and not both <= one <= len(cleaned.get("steps", [])) - 1:
            self.add_error("loads_one_from", _("One foot comes with or after two feet, and not after full class."))
        if bool(cleaned.get("approved_by")) != bool(cleaned.get("approved_on")) and "approved_on" not in self.errors:
            self.add_error("approved_on", _("Say who approved it and when, or neither."))
        return cleaned

    @property
    def ladder_steps(self) -> list[dict[str, str]]:
        both, one = self.cleaned_data["loads_both_from"], self.cleaned_data["loads_one_from"]
        return [
            {"words": words, "loads": "one" if at >= one else "both" if at >= both else ""}
            for at, words in enumerate(self.cleaned_data["steps"])
        ]
