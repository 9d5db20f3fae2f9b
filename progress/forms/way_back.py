"""Forms of the way back into class: a step, a new clearance, the owner's ladder."""
from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from progress.models import ReturnStep
from progress.rules.resting import ALLOWANCES, STEP_ALLOWS, may_do, rank
from progress.words.speech import voice_for
from studio.forms import DayInput, refuse_unlikely_day
from studio.templatetags.wording import day as write_day


def allowance_choices() -> list[tuple[str, str]]:
    """What a clinician may allow, the strictest first, nothing chosen."""
    return [("", _("choose")), *((key, may_do(key, voice_for(None))) for key in ALLOWANCES)]


class StepForm(forms.Form):
    """A logged class without pain, or a step back, and a word about it."""

    move = forms.ChoiceField(choices=[(ReturnStep.UP, ""), (ReturnStep.BACK, "")])
    class_log = forms.TypedChoiceField(
        label=gettext_lazy("After which class?"), coerce=int, empty_value=None, required=False,
    )
    note = forms.CharField(label=gettext_lazy("A note"), max_length=300, required=False, strip=True)

    def __init__(self, *args, classes, **kwargs):
        super().__init__(*args, **kwargs)
        self.logs = {log.pk: log for log in classes}
        self.fields["class_log"].choices = [
            (key, f"{write_day(log.held_on)}, {log.class_group}") for key, log in self.logs.items()
        ]

    def clean(self):
        cleaned = super().clean()
        if cleaned.get("move") == ReturnStep.UP and not cleaned.get("class_log") and not self.errors:
            self.add_error("class_log", _(
                "The next step up needs a logged class since the last step, with the student there."
            ))
        return cleaned


class ClearanceForm(forms.Form):
    """What a clinician allows from now on, while a student is on the way back."""

    said_by = forms.CharField(label=gettext_lazy("Clinician’s name"), max_length=120)
    said_on = forms.DateField(label=gettext_lazy("Seen on"), widget=DayInput(), validators=[refuse_unlikely_day])
    allowed = forms.CharField(label=gettext_lazy("What is allowed now, in their words"), max_length=300)
    allows = forms.ChoiceField(label=gettext_lazy("That is, at most"), choices=allowance_choices)
    until_on = forms.DateField(
        label=gettext_lazy("Until when"), widget=DayInput(), required=False, validators=[refuse_unlikely_day]
    )
    see_again_on = forms.DateField(
        label=gettext_lazy("To be seen again on"), widget=DayInput(), required=False, validators=[refuse_unlikely_day]
    )


# What a step of the owner's ladder may load, in words.
LOADS = {
    "nothing": gettext_lazy("no dancing"),
    "": gettext_lazy("no rises: seated work, barre on flat feet"), "both": gettext_lazy("rises on two feet"),
    "one": gettext_lazy("rises on one foot"), "small": gettext_lazy("small jumps on two feet"),
    "jumps": gettext_lazy("all jumps"), "pointe": gettext_lazy("pointe work (only for students already on pointe)"),
    "all": gettext_lazy("everything: full class"),
}
# Room for steps that are still to be written.
EMPTY_ROWS, MOST_STEPS = 2, 20


class LadderForm(forms.Form):
    """The owner's ladder: each step in words and what it loads, the gentlest first, and which clinician approved it."""

    approved_by = forms.CharField(label=gettext_lazy("Approved by (a clinician)"), max_length=120, required=False)
    approved_on = forms.DateField(
        label=gettext_lazy("Approved on"), widget=DayInput(), required=False, validators=[refuse_unlikely_day]
    )

    def __init__(self, *args, steps, **kwargs):
        super().__init__(*args, **kwargs)
        self.count = min(len(steps) + EMPTY_ROWS, MOST_STEPS)
        for at in range(self.count):
            step = steps[at] if at < len(steps) else {"words": "", "loads": ""}
            words = _(step["words"]) if step["words"] else ""
            self.fields[f"words_{at}"] = forms.CharField(
                label=_("Step %(n)s") % {"n": at}, max_length=150, required=False, strip=True, initial=words,
            )
            self.fields[f"loads_{at}"] = forms.ChoiceField(
                label=_("Step %(n)s loads") % {"n": at}, choices=list(LOADS.items()), required=False,
                initial=step["loads"],
            )

    @property
    def rows(self):
        return [(self[f"words_{at}"], self[f"loads_{at}"]) for at in range(self.count)]

    def clean(self):
        cleaned = super().clean()
        steps = self.ladder_steps
        if not 2 <= len(steps) <= MOST_STEPS:
            self.add_error(None, _("Between 2 and 20 steps."))
        ranks = [rank(STEP_ALLOWS[step["loads"]]) for step in steps]
        if ranks != sorted(ranks):
            self.add_error(None, _("The gentlest step comes first: none loads less than the one before it."))
        if steps and steps[-1]["loads"] != "all":
            self.add_error(None, _("The last step is full class: everything."))
        if bool(cleaned.get("approved_by")) != bool(cleaned.get("approved_on")) and "approved_on" not in self.errors:
            self.add_error("approved_on", _("Say who approved it and when, or leave both empty."))
        return cleaned

    @property
    def ladder_steps(self) -> list[dict[str, str]]:
        typed = self.cleaned_data
        rows = [(typed.get(f"words_{at}", ""), typed.get(f"loads_{at}", "")) for at in range(self.count)]
        return [{"words": " ".join(words.split()), "loads": loads} for words, loads in rows if words.strip()]
