"""Forms of the house; they check what was typed and write nothing themselves."""
import datetime as dt
import zoneinfo

from django import forms
from django.contrib.auth.password_validation import validate_password
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from studio.models import ClassGroup, ClassMeeting, Enrolment, Guardian, Holiday, Student, Studio, Term, User
from studio.sheets.cells import MAX_BYTES, MEGABYTE

# Hard and soft limits of an age, in years (evidence: users of timed balance norms are 4 to 17).
AGE_HARD, AGE_SOFT = (3, 25), (6, 18)


class DayInput(forms.DateInput):
    input_type = "date"

    def __init__(self, **kwargs):
        super().__init__(format="%Y-%m-%d", **kwargs)


def refuse_unlikely_day(day: dt.date) -> None:
    """Refuses a slip of the keyboard such as the year 20226; arithmetic on the last days there are would fail."""
    if not 2000 <= day.year <= 2200:
        raise forms.ValidationError(_("This is not a likely day."))


class StudentForm(forms.ModelForm):
    """A student's particulars; an unusual age is asked back, an impossible one refused."""

    age_is_right = forms.BooleanField(required=False, widget=forms.HiddenInput, label=_("The age is right"))

    class Meta:
        model = Student
        fields = [
            "name", "called", "birth_on", "stage", "training_since_year", "classes_per_week", "dominant_foot",
        ]
        widgets = {"birth_on": DayInput()}

    def __init__(self, *args, today: dt.date, reach: QuerySet[Student], **kwargs):
        super().__init__(*args, **kwargs)
        self.today, self.reach = today, reach
        self.fields["training_since_year"].help_text = _("The year, for example 2023.")

    def clean_name(self) -> str:
        return " ".join(self.cleaned_data["name"].split())

    def clean_birth_on(self) -> dt.date | None:
        birth_on = self.cleaned_data["birth_on"]
        if birth_on is None:
            return None
        age = Student(birth_on=birth_on).age_on(self.today)
        if not AGE_HARD[0] <= age <= AGE_HARD[1]:
            raise forms.ValidationError(
                _("That would be an age of %(age)s. Students here are %(low)s to %(high)s."),
                params={"age": age, "low": AGE_HARD[0], "high": AGE_HARD[1]},
            )
        if not AGE_SOFT[0] <= age <= AGE_SOFT[1] and not self.data.get(self.add_prefix("age_is_right")):
            self.fields["age_is_right"].widget = forms.CheckboxInput()
            raise forms.ValidationError(
                _("An age of %(age)s: sure? Tick “The age is right” below."), params={"age": age}
            )
        return birth_on

    def clean_training_since_year(self) -> int | None:
        year = self.cleaned_data["training_since_year"]
        if year is not None and not self.today.year - 22 <= year <= self.today.year:
            raise forms.ValidationError(_("This is not a likely year."))
        return year

    def clean_classes_per_week(self) -> int | None:
        number = self.cleaned_data["classes_per_week"]
        if number is not None and number > 20:
            raise forms.ValidationError(_("More than 20 classes a week is not likely."))
        return number

    def clean(self):
        cleaned = super().clean()
        name, birth_on = cleaned.get("name"), cleaned.get("birth_on")
        twins = Student.objects.filter(name__iexact=name, birth_on=birth_on).exclude(pk=self.instance.pk)
        if name and "birth_on" not in self.errors and twins.exists():
            known = self.reach.filter(pk__in=twins.values("pk")).exists()
            # A child out of this person's reach is not spoken of.
            self.add_error("name", _("A student of this name and birth date is in the studio already.") if known else
                           _("This student cannot be added here. Please ask the owner."))
        return cleaned


class EnrolForm(forms.Form):
    joined_on = forms.DateField(label=_("Joined on"), widget=DayInput(), validators=[refuse_unlikely_day])


class LeaveForm(forms.ModelForm):
    class Meta:
        model = Enrolment
        fields = ["left_on"]
        widgets = {"left_on": DayInput()}

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["left_on"].required = True
        self.fields["left_on"].validators.append(refuse_unlikely_day)


class MoveForm(forms.Form):
    class_group = forms.ModelChoiceField(ClassGroup.objects.none(), label=_("To which class"))
    moved_on = forms.DateField(label=_("From which day on"), widget=DayInput(), validators=[refuse_unlikely_day])

    def __init__(self, *args, classes, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["class_group"].queryset = classes


class GuardianForm(forms.ModelForm):
    class Meta:
        model = Guardian
        fields = ["name", "email", "phone", "language_code"]


class HttpsURLField(forms.URLField):
    """An address; one typed without a scheme is taken as https."""

    def __init__(self, **kwargs):
        super().__init__(**kwargs, assume_scheme="https")


# Where people live; what else the time-zone database knows are older names of the same.
REGIONS = ("Africa", "America", "Asia", "Atlantic", "Australia", "Europe", "Indian", "Pacific")


def time_zones() -> list[tuple[str, list[tuple[str, str]]]]:
    """Every time zone by its city, in groups by region: "Vienna" under Europe."""
    groups: dict[str, list[tuple[str, str]]] = {region: [] for region in REGIONS}
    for name in sorted(zoneinfo.available_timezones()):
        region, _slash, city = name.partition("/")
        if city and region in groups:
            groups[region].append((name, city.replace("_", " ").replace("/", ", ")))
    return [*groups.items(), ("UTC", [("UTC", "UTC")])]


class StudioForm(forms.ModelForm):
    time_zone = forms.ChoiceField(
        label=_("time zone"), choices=time_zones,
        help_text=_("The nearest city in the list. Type the first letters of its name."),
    )

    class Meta:
        model = Studio
        fields = [
            "name", "phone", "email", "language_code", "time_zone", "idle_minutes", "second_factor_for",
            "first_aid_policy",
            "sends_digest", "consent_asked_from", "months_kept", "audit_months", "family_address",
        ]
        widgets = {"consent_asked_from": DayInput()}
        field_classes = {"family_address": HttpsURLField}
        help_texts = {
            **{name: Studio._meta.get_field(name).help_text
               for name in ("phone", "email", "consent_asked_from", "months_kept", "audit_months", "family_address")},
            "idle_minutes": _("After so many minutes without a touch, an enrolled tablet asks for a PIN or password."),
            "second_factor_for": _(
                "A code from an app, asked for beside the password on every browser that is not an enrolled tablet."
            ),
            "first_aid_policy": _("Shown beside the pain steps. Local rules and licensed practice come first."),
            "sends_digest": _("Counts and links, no child’s name. Needs a mail server: see the README."),
        }

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        there = self.instance.time_zone
        if not any(there == name for _region, zones in time_zones() for name, _city in zones):
            # Set in the past, under a name that the list has no more.
            self.fields["time_zone"].choices = [(there, there), *time_zones()]

    def clean_months_kept(self) -> int:
        months = self.cleaned_data["months_kept"]
        if not 1 <= months <= 240:
            raise forms.ValidationError(_("From one month to twenty years."))
        return months


class TermForm(forms.ModelForm):
    class Meta:
        model = Term
        fields = ["name", "starts_on", "ends_on"]
        widgets = {"starts_on": DayInput(), "ends_on": DayInput()}

    def clean(self):
        cleaned = super().clean()
        starts_on, ends_on = cleaned.get("starts_on"), cleaned.get("ends_on")
        if starts_on and ends_on:
            refuse_unlikely_day(starts_on)
            refuse_unlikely_day(ends_on)
            if ends_on <= starts_on:
                self.add_error("ends_on", _("The last day lies before the first."))
            elif (ends_on - starts_on).days > 366:
                self.add_error("ends_on", _("A term is at most a year."))
            elif (
                Term.objects.filter(starts_on__lte=ends_on, ends_on__gte=starts_on)
                .exclude(pk=self.instance.pk).exists()
            ):
                self.add_error("starts_on", _("Another term has days in common with this one."))
        return cleaned


class HolidayForm(forms.ModelForm):
    class Meta:
        model = Holiday
        fields = ["name", "starts_on", "ends_on"]
        widgets = {"starts_on": DayInput(), "ends_on": DayInput()}

    def clean(self):
        cleaned = super().clean()
        starts_on, ends_on, term = cleaned.get("starts_on"), cleaned.get("ends_on"), self.instance.term
        if starts_on and ends_on:
            if ends_on < starts_on:
                self.add_error("ends_on", _("The last day lies before the first."))
            elif starts_on < term.starts_on or ends_on > term.ends_on:
                self.add_error("starts_on", _("These days are not all inside the term."))
        return cleaned


class ClassForm(forms.ModelForm):
    class Meta:
        model = ClassGroup
        fields = ["name", "teachers"]
        widgets = {"teachers": forms.CheckboxSelectMultiple}

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["teachers"].queryset = User.objects.filter(is_active=True).order_by("name")
        self.fields["teachers"].required = False


class MeetingForm(forms.ModelForm):
    class Meta:
        model = ClassMeeting
        fields = ["weekday", "starts_at"]
        widgets = {"starts_at": forms.TimeInput(attrs={"type": "time"}, format="%H:%M")}


class PersonForm(forms.ModelForm):
    class Meta:
        model = User
        fields = ["name", "username", "role", "email", "gets_digest"]
        help_texts = {"username": _("Typed to log in.")}


class NewPersonForm(PersonForm):
    password = forms.CharField(
        label=_("First password"), widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        help_text=_("At least twelve characters, and not a common password. They can change it under their own name."),
    )

    def clean(self):
        cleaned = super().clean()
        if cleaned.get("password"):
            try:
                validate_password(cleaned["password"], User(username=cleaned.get("username"), name=cleaned.get("name")))
            except forms.ValidationError as problem:
                self.add_error("password", problem)
        return cleaned


class EditPersonForm(PersonForm):
    class Meta(PersonForm.Meta):
        fields = [*PersonForm.Meta.fields, "is_active"]
        labels = {"is_active": _("May log in")}
        help_texts = {"is_active": ""}


class TableFileField(forms.FileField):
    """A spreadsheet; one that is too large is refused before it is read."""

    default_error_messages = {
        "too_large": _("The file is larger than %(limit)s MB. Please save only the table, without pictures.")
    }

    def clean(self, data, initial=None):
        file = super().clean(data, initial)
        if file is not None and file.size > MAX_BYTES:
            raise forms.ValidationError(
                self.error_messages["too_large"], code="too_large", params={"limit": MAX_BYTES // MEGABYTE}
            )
        return file


class RosterFileForm(forms.Form):
    """A roster file, and where its students go."""

    file = TableFileField(label=_("File"), help_text=_("XLSX, XLS, ODS or CSV, as your spreadsheet saves it."))
    class_group = forms.ModelChoiceField(ClassGroup.objects.all(), label=_("Class"))
    term = forms.ModelChoiceField(Term.objects.all(), label=_("Term"))
