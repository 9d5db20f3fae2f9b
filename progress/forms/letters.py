"""The form of a teacher's own words in a family letter."""
from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from progress.models.letters import LONGEST
from progress.papers import paper


class LetterForm(forms.Form):
    """The teacher's words, and the version they were written after."""

    text = forms.CharField(
        label=gettext_lazy("Your own words"), required=False, max_length=LONGEST, strip=True,
        widget=forms.Textarea(attrs={"rows": 12}),
        help_text=gettext_lazy("In the family’s language. No verdicts, and nothing about other children."),
    )
    after = forms.IntegerField(required=False, widget=forms.HiddenInput)

    def clean_text(self) -> str:
        text = self.cleaned_data["text"].replace("\r\n", "\n")
        try:
            printable = paper.in_our_letters(text)
        except paper.NotOurLetters as lacking:
            raise forms.ValidationError(_("The font on paper has no %(letters)s."), params={
                "letters": " ".join(lacking.letters)}) from lacking
        if printable != text:
            raise forms.ValidationError(_("One character in it cannot be printed. Please leave it out."))
        return text
