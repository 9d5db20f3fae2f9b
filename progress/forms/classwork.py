"""Forms of the class's work: exercises, the programme, steps of ladders, taps in the class log."""
import datetime as dt

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from progress.drawing.body.poses import EXERCISE_POSES
from progress.models import Exercise, ExerciseVersion, LadderStep
from progress.rules.dose import MOST_REPS, MOST_SECONDS, MOST_SETS
from studio.models import Student


class LinesField(forms.CharField):
    """A list of words, one a line."""

    widget = forms.Textarea(attrs={"rows": 4})

    def prepare_value(self, value):
        return "\n".join(value) if isinstance(value, list) else value

    def to_python(self, value):
        lines = [" ".join(line.split()) for line in (super().to_python(value) or "").splitlines()]
        return list(dict.fromkeys(line for line in lines if line))


class PoseChoice(forms.RadioSelect):
    """Poses to choose from as pictures, each with its words for the ear."""

    template_name = "progress/classwork/_pose_choice.html"


class ExerciseForm(forms.ModelForm):
    """One version of an exercise; `words()` is what the next version would say."""

    faults = LinesField(
        label=gettext_lazy("Usual faults, one a line"), required=False, max_length=600,
        help_text=gettext_lazy("The words to tap in the class log."),
    )
    serves = forms.MultipleChoiceField(
        label=gettext_lazy("Helps with"), required=False, widget=forms.CheckboxSelectMultiple,
        help_text=gettext_lazy("The exercise is suggested where one of these is weak."),
    )
    pose = forms.ChoiceField(label=gettext_lazy("Drawing"), required=False, widget=PoseChoice)
    is_offered = forms.BooleanField(label=gettext_lazy("Offered for programmes"), required=False, initial=True)

    class Meta:
        model = ExerciseVersion
        fields = (
            "name", "purpose", "muscles", "how", "pose", "sets", "reps", "hold_seconds", "each_foot", "tempo",
            "clean_look", "faults", "cautions", "stop_rule", "serves", "equipment", "dose_source", "loads_foot",
            "counts_as",
        )
        widgets = {
            name: forms.Textarea(attrs={"rows": 3})
            for name in ("purpose", "muscles", "how", "clean_look", "cautions", "stop_rule")
        }

    def __init__(self, *args, faults_by_measure, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["pose"].choices = [("", _("no drawing")), *((pose.key, _(pose.says)) for pose in EXERCISE_POSES)]
        self.fields["serves"].choices = [
            (f"{measure.key}|{fault}", f"{measure}: {_(fault)}" if fault else str(measure))
            for measure, faults in faults_by_measure for fault in ("", *faults)
        ]
        self.fields["serves"].initial = self.initial["serves"] = [
            "|".join(pair) for pair in self.initial.get("serves", ())
        ]
        for name, most in (("sets", MOST_SETS), ("reps", MOST_REPS), ("hold_seconds", MOST_SECONDS)):
            self.fields[name].validators.append(MaxValueValidator(most))
            if name != "hold_seconds":
                self.fields[name].validators.append(MinValueValidator(1))

    def clean_faults(self):
        faults = self.cleaned_data["faults"]
        if any(len(fault) > 40 for fault in faults):
            raise forms.ValidationError(_("At most 40 letters a fault."))
        return faults

    def clean_serves(self):
        return [value.split("|", 1) for value in self.cleaned_data["serves"]]

    def words(self) -> dict:
        return {name: self.cleaned_data[name] for name in self.Meta.fields}


class LoadRuleForm(forms.Form):
    percent = forms.IntegerField(
        min_value=10, max_value=300,
        label=gettext_lazy("A week’s load is a jump when it is more than this above the weeks before, in per cent"),
    )


class PlanForm(forms.Form):
    """An exercise for the programme of a class, or of one student; without a dose that of the catalogue."""

    exercise = forms.ModelChoiceField(
        Exercise.objects.filter(is_offered=True), to_field_name="key", label=gettext_lazy("Exercise")
    )
    student = forms.ModelChoiceField(
        Student.objects.none(), required=False, label=gettext_lazy("For"), empty_label=gettext_lazy("the whole class")
    )
    sets = forms.IntegerField(required=False, min_value=1, max_value=MOST_SETS, label=gettext_lazy("Sets"))
    reps = forms.IntegerField(required=False, min_value=1, max_value=MOST_REPS, label=gettext_lazy("Repetitions"))
    hold_seconds = forms.IntegerField(
        required=False, min_value=1, max_value=MOST_SECONDS, label=gettext_lazy("Seconds held")
    )
    note = forms.CharField(required=False, max_length=120, label=gettext_lazy("Note"))
    step = forms.ModelChoiceField(LadderStep.objects.all(), required=False, widget=forms.HiddenInput)
    reason = forms.CharField(required=False, max_length=300, widget=forms.HiddenInput)
    is_spared = forms.BooleanField(required=False, label=gettext_lazy("leave out"))

    def __init__(self, *args, students, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["student"].queryset = students

    def clean(self):
        cleaned = super().clean()
        if cleaned.get("is_spared") and not cleaned.get("student") and "student" not in self.errors:
            self.add_error("student", _("Say who leaves it out."))
        if bool(cleaned.get("sets")) != bool(cleaned.get("reps")) and not {"sets", "reps"} & set(self.errors):
            self.add_error("reps" if cleaned.get("sets") else "sets", _("Sets and repetitions go together."))
        return cleaned


class StepMoveForm(forms.Form):
    """Students, or the class, to another step of a ladder."""

    to = forms.ModelChoiceField(LadderStep.objects.select_related("exercise"))
    at = forms.ModelChoiceField(LadderStep.objects.select_related("exercise"))
    students = forms.ModelMultipleChoiceField(Student.objects.none(), required=False)
    whole_class = forms.BooleanField(required=False)
    reason = forms.CharField(required=False, max_length=300)

    def __init__(self, *args, students, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["students"].queryset = students

    def clean(self):
        cleaned = super().clean()
        at, to = cleaned.get("at"), cleaned.get("to")
        if at and to and at.ladder_id != to.ladder_id:
            raise forms.ValidationError(_("These steps are on two ladders."))
        if not cleaned.get("whole_class") and not cleaned.get("students"):
            raise forms.ValidationError(_("Say who moves."))
        return cleaned


class TapForm(forms.Form):
    """What every tap in the class log carries: its key and the class's day."""

    # A class is logged on its day or soon after; later the memory is no log. The studio's own rule.
    LATE_DAYS = 14
    key = forms.UUIDField()
    on = forms.DateField(input_formats=["%Y-%m-%d"])

    def __init__(self, data, *, today: dt.date):
        super().__init__(data)
        self.today = today

    def clean_on(self) -> dt.date:
        on = self.cleaned_data["on"]
        if not self.today - dt.timedelta(days=self.LATE_DAYS) <= on <= self.today:
            raise forms.ValidationError(_("A class is logged on its day or within two weeks."))
        return on


class LogChangeForm(TapForm):
    exercise = forms.SlugField(max_length=40)
    student = forms.IntegerField(min_value=1, max_value=10**17)
    change = forms.CharField(max_length=60)


class LogAsPlannedForm(TapForm):
    exercise = forms.SlugField(max_length=40)


class LogAskedForm(TapForm):
    follow_up = forms.IntegerField(min_value=1, max_value=10**17)


class LogTakeBackForm(TapForm):
    of = forms.UUIDField()
