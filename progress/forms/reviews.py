"""The forms of a review before pointe work: what one person saw, and what people decided."""
import datetime as dt
from collections.abc import Iterable, Iterator, Mapping

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from progress.models import Decision, PointSeen
from progress.models.reviews import LONGEST_FOR_FAMILY
from progress.papers import paper
from progress.rules.pointe_points import Point
from studio.forms import DayInput, refuse_unlikely_day


class OpenReviewForm(forms.Form):
    why = forms.CharField(label=gettext_lazy("Why now?"), max_length=300, required=False, strip=True)


class PointsForm(forms.Form):
    """One person's view of each point; a point without an answer says nothing."""

    said_by = forms.CharField(label=gettext_lazy("Whose view is it?"), max_length=120, strip=True)
    said_on = forms.DateField(label=gettext_lazy("Seen on"), widget=DayInput())

    def __init__(
        self, *args, points: Iterable[Point], whose: str, before: Mapping[str, PointSeen], today: dt.date, **kwargs
    ):
        super().__init__(*args, **kwargs)
        self.points, self.today = tuple(points), today
        self.fields["said_on"].initial = today
        if whose == PointSeen.TEACHER:
            del self.fields["said_by"]
        for point in self.points:
            said = before.get(point.key)
            self.fields[f"answer_{point.key}"] = forms.ChoiceField(
                label=_(point.title), choices=PointSeen.ANSWERS, widget=forms.RadioSelect, required=False,
                help_text=_(point.asks), initial=said.answer if said else None,
            )
            self.fields[f"words_{point.key}"] = forms.CharField(
                label=_("In words: %(point)s") % {"point": _(point.title)}, max_length=500, required=False, strip=True,
                widget=forms.Textarea(attrs={"rows": 2}), initial=said.words if said else "",
            )

    def head(self) -> Iterator[forms.BoundField]:
        return (self[name] for name in ("said_by", "said_on") if name in self.fields)

    def by_point(self) -> Iterator[tuple[Point, forms.BoundField, forms.BoundField]]:
        return ((point, self[f"answer_{point.key}"], self[f"words_{point.key}"]) for point in self.points)

    def clean_said_on(self) -> dt.date:
        return not_to_come(self.cleaned_data["said_on"], self.today)

    def clean(self):
        cleaned = super().clean()
        for point in self.points:
            if cleaned.get(f"words_{point.key}") and not cleaned.get(f"answer_{point.key}"):
                self.add_error(f"answer_{point.key}", _("Say which of the three it is."))
        if not self.errors and not self.said():
            raise forms.ValidationError(_("Nothing is chosen yet. One point is enough."))
        return cleaned

    def said(self) -> dict[str, tuple[str, str]]:
        """By the point's key (answer, words)."""
        typed = self.cleaned_data
        return {
            point.key: (typed[f"answer_{point.key}"], typed[f"words_{point.key}"])
            for point in self.points if typed.get(f"answer_{point.key}")
        }


class DecisionForm(forms.Form):
    """What people decided, in their words."""

    asked = forms.MultipleChoiceField(
        label=gettext_lazy("Who was asked?"), choices=Decision.ASKED, widget=forms.CheckboxSelectMultiple
    )
    names = forms.CharField(label=gettext_lazy("Their names"), max_length=300, required=False, strip=True)
    decided_on = forms.DateField(label=gettext_lazy("Decided on"), widget=DayInput())
    decided = forms.CharField(
        label=gettext_lazy("What was decided, in your words"), max_length=1000, strip=True,
        widget=forms.Textarea(attrs={"rows": 4}),
    )
    from_on = forms.DateField(label=gettext_lazy("From when"), widget=DayInput(), required=False)
    conditions = forms.CharField(
        label=gettext_lazy("Under which conditions"), max_length=500, required=False, strip=True,
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    look_again_on = forms.DateField(
        label=gettext_lazy("Look again on"), widget=DayInput(), required=False,
        help_text=gettext_lazy("It waits on the list of follow-ups until that day."),
    )
    for_family = forms.CharField(
        label=gettext_lazy("The same for the letter to the family"), max_length=LONGEST_FOR_FAMILY, required=False,
        strip=True, widget=forms.Textarea(attrs={"rows": 5}),
        help_text=gettext_lazy(
            "In the family’s language. What the student does next, and with whom. “Not this year” is a plan, too."),
    )

    def __init__(self, *args, today: dt.date, **kwargs):
        super().__init__(*args, **kwargs)
        self.today = today

    def clean_decided_on(self) -> dt.date:
        return not_to_come(self.cleaned_data["decided_on"], self.today)

    def clean_from_on(self) -> dt.date | None:
        if self.cleaned_data["from_on"] is not None:
            refuse_unlikely_day(self.cleaned_data["from_on"])
        return self.cleaned_data["from_on"]

    def clean_for_family(self) -> str:
        text = self.cleaned_data["for_family"].replace("\r\n", "\n")
        try:
            paper.in_our_letters(text)
        except paper.NotOurLetters as lacking:
            raise forms.ValidationError(_("The font on paper has no %(letters)s."), params={
                "letters": " ".join(lacking.letters)}) from lacking
        return text

    def clean(self):
        cleaned = super().clean()
        again, on = cleaned.get("look_again_on"), cleaned.get("decided_on")
        if again is not None:
            refuse_unlikely_day(again)
            if on is not None and again <= on:
                self.add_error("look_again_on", _("This day lies before the decision."))
        return cleaned


def not_to_come(on: dt.date, today: dt.date) -> dt.date:
    """The day; refused where it is unlikely or still to come."""
    refuse_unlikely_day(on)
    if on > today:
        raise forms.ValidationError(_("This day is still to come."))
    return on
