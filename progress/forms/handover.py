"""The form of a teacher's words for the next one."""
from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from progress.models.handover import LONGEST
from progress.papers import paper


class HandoverForm(forms.Form):
    """The words that stand, to be changed; empty takes them out."""

    text = forms.CharField(
        label=gettext_lazy("In your own words"), required=False, max_length=LONGEST, strip=True,
        widget=forms.Textarea(attrs={"rows": 8}),
        help_text=gettext_lazy("What the next teacher must know and no number says. The family may read it."),
    )

    def clean_text(self) -> str:
        text = self.cleaned_data["text"].replace("\r\n", "\n")
        try:
            paper.in_our_letters(text)
        except paper.NotOurLetters as lacking:
            raise forms.ValidationError(_("The font on paper has no %(letters)s."), params={
                "letters": " ".join(lacking.letters)}) from lacking
        return text
