"""Forms of the first weeks on pointe: the minutes of a class, a student's step, the owner's steps."""
from collections.abc import Iterable, Iterator, Sequence

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from progress.models import PointeTime
from progress.models.pointe_weeks import MOST_MINUTES
from progress.queries.pointe_weeks import PointeRow
from progress.rules.pointe_weeks import NOT_ASKED

# Room for steps that are still to be written.
EMPTY_ROWS, MOST_STEPS = 2, 12


class MinutesForm(forms.Form):
    """Today's minutes of every student of a class who may do pointe work; an empty field says nothing."""

    def __init__(self, *args, rows: Iterable[PointeRow], **kwargs):
        super().__init__(*args, **kwargs)
        self.rows = tuple(rows)
        for row in self.rows:
            if row.rest is not None:
                continue
            pk, name = row.student.pk, {"name": row.student.first_name}
            self.fields[f"minutes_{pk}"] = forms.IntegerField(
                label=_("Minutes: %(name)s") % name, min_value=0, max_value=MOST_MINUTES, required=False,
                initial=row.today.minutes if row.today else None,
            )
            if row.is_asked:
                self.fields[f"said_{pk}"] = forms.ChoiceField(
                    label=_("Heel and big toe: %(name)s") % name, choices=PointeTime.SAID,
                    initial=row.today.said if row.today else NOT_ASKED, required=False,
                )

    def by_row(self) -> Iterator[tuple[PointeRow, forms.BoundField | None, forms.BoundField | None]]:
        for row in self.rows:
            names = (f"minutes_{row.student.pk}", f"said_{row.student.pk}")
            yield row, *(self[name] if name in self.fields else None for name in names)

    def told(self) -> list[tuple[PointeRow, int, str]]:
        """(row, minutes, what was said) of whoever has minutes typed."""
        typed = self.cleaned_data
        return [
            (row, typed[f"minutes_{row.student.pk}"], typed.get(f"said_{row.student.pk}") or NOT_ASKED)
            for row in self.rows if typed.get(f"minutes_{row.student.pk}") is not None
        ]


class PointeStepForm(forms.Form):
    """On which step a student stands from today on."""

    step = forms.TypedChoiceField(label=gettext_lazy("Step"), coerce=int, widget=forms.RadioSelect)
    note = forms.CharField(label=gettext_lazy("A note"), max_length=300, required=False, strip=True)

    def __init__(self, *args, steps: Sequence[dict], **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["step"].choices = [
            (at, _("%(words)s, %(n)s minutes") % {"words": _(step["words"]), "n": step["minutes"]})
            for at, step in enumerate(steps)
        ]


class PointeLadderForm(forms.Form):
    """The owner's steps, the gentlest first: words, minutes, and where each comes from."""

    def __init__(self, *args, steps: Sequence[dict], **kwargs):
        super().__init__(*args, **kwargs)
        self.count = min(len(steps) + EMPTY_ROWS, MOST_STEPS)
        for at in range(self.count):
            step = steps[at] if at < len(steps) else {"words": "", "minutes": None, "source": ""}
            number = {"n": at + 1}
            self.fields[f"words_{at}"] = forms.CharField(
                label=_("Step %(n)s") % number, max_length=150, required=False, strip=True,
                initial=_(step["words"]) if step["words"] else "",
            )
            self.fields[f"minutes_{at}"] = forms.IntegerField(
                label=_("Step %(n)s, minutes") % number, min_value=1, max_value=MOST_MINUTES, required=False,
                initial=step["minutes"],
            )
            self.fields[f"source_{at}"] = forms.CharField(
                label=_("Step %(n)s, source") % number, max_length=200, required=False, strip=True,
                initial=_(step["source"]) if step["source"] else "",
            )

    def by_row(self) -> list[tuple[forms.BoundField, ...]]:
        return [tuple(self[f"{name}_{at}"] for name in ("words", "minutes", "source")) for at in range(self.count)]

    def clean(self):
        cleaned = super().clean()
        for at in range(self.count):
            if cleaned.get(f"words_{at}") and not cleaned.get(f"minutes_{at}") and f"minutes_{at}" not in self.errors:
                self.add_error(f"minutes_{at}", _("Say how many minutes."))
        if not self.errors and not self.ladder_steps:
            self.add_error(None, _("At least one step."))
        return cleaned

    @property
    def ladder_steps(self) -> list[dict]:
        typed = self.cleaned_data
        return [
            {"words": typed[f"words_{at}"], "minutes": typed[f"minutes_{at}"],
             "source": typed[f"source_{at}"] or "studio’s own"}
            for at in range(self.count) if typed.get(f"words_{at}")
        ]
