"""Forms of the entrance: log in by password or PIN, set a PIN, enrol a tablet; they write nothing themselves."""
from django import forms
from django.contrib.auth import authenticate
from django.contrib.auth.forms import AuthenticationForm, PasswordChangeForm
from django.db.models import QuerySet
from django.http import HttpRequest
from django.utils.translation import gettext_lazy as _

from studio.audit.marks import mark_outcome
from studio.audit.models import AuditRow
from studio.entrance.keys import Tablet
from studio.entrance.pin_rules import weakness
from studio.models import User

WEAK = {
    "shape": _("A PIN is four to six digits."),
    "repeats": _("This PIN says the same over and over. Choose one that is harder to guess."),
    "runs": _("This PIN counts up or down. Choose one that is harder to guess."),
    "year": _("This could be a birth year, the first thing people guess. Choose another."),
    "date": _("This could be a birth date, the first thing people guess. Choose another."),
}


class LoginForm(AuthenticationForm):
    error_messages = {
        "invalid_login": _("This name and password do not belong together. Both are case-sensitive."),
        "inactive": _("This account is closed."),
    }


class PinInput(forms.PasswordInput):
    """Digits for a thumb; no browser shall remember it or offer a password in its place."""

    def __init__(self, **attrs):
        super().__init__(attrs={"inputmode": "numeric", "autocomplete": "off", "maxlength": 6, "pattern": "[0-9]*",
                                **attrs})


class PinEntryForm(forms.Form):
    """Who, and their PIN; only people who have one are offered."""

    person = forms.ModelChoiceField(
        User.objects.none(), label=_("Who"), widget=forms.RadioSelect, empty_label=None,
        error_messages={"required": _("Tap a name first.")},
    )
    pin = forms.CharField(label=_("PIN"), max_length=6, widget=PinInput(**{"data-secret": True}))

    def __init__(self, *args, people: QuerySet[User], **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["person"].queryset = people


class OwnPasswordForm(forms.Form):
    """Asks the person for the password again; wrong ones are counted as those at the entrance are."""

    password = forms.CharField(
        label=_("Your password"), strip=False, widget=forms.PasswordInput(attrs={"autocomplete": "current-password"})
    )

    def __init__(self, *args, request: HttpRequest, **kwargs):
        super().__init__(*args, **kwargs)
        self.request = request
        self.order_fields([name for name in self.fields if name != "password"])

    def clean_password(self) -> str:
        password = self.cleaned_data["password"]
        if authenticate(self.request, username=self.request.user.username, password=password) is None:
            mark_outcome(self.request, AuditRow.REFUSED)
            raise forms.ValidationError(_("This is not your password."))
        return password


class NewPinForm(OwnPasswordForm):
    pin = forms.CharField(label=_("New PIN"), max_length=6, widget=PinInput(), help_text=_("Four to six digits."))
    pin_again = forms.CharField(label=_("The PIN again"), max_length=6, widget=PinInput())

    def clean_pin(self) -> str:
        pin = self.cleaned_data["pin"]
        if why := weakness(pin):
            raise forms.ValidationError(WEAK[why])
        return pin

    def clean(self):
        cleaned = super().clean()
        if "pin" in cleaned and "pin_again" in cleaned and cleaned["pin"] != cleaned["pin_again"]:
            self.add_error("pin_again", _("The two PINs differ."))
        return cleaned


class TabletForm(forms.ModelForm):
    class Meta:
        model = Tablet
        fields = ["name"]


class CodeForm(forms.Form):
    code = forms.CharField(
        label=_("Code"), max_length=20, help_text=_("Six digits from your app, or one of your recovery codes."),
        widget=forms.TextInput(attrs={"autocomplete": "one-time-code", "autofocus": True, "autocapitalize": "none",
                                      "spellcheck": "false"}),
    )


class AppForm(OwnPasswordForm):
    code = forms.RegexField(
        r"^[0-9]{3} ?[0-9]{3}$", label=_("The six digits that your app shows now"), max_length=7,
        widget=forms.TextInput(attrs={"autocomplete": "one-time-code", "inputmode": "numeric"}),
        error_messages={"invalid": _("Six digits.")},
    )

    def clean_code(self) -> str:
        return self.cleaned_data["code"].replace(" ", "")


class NewPasswordForm(PasswordChangeForm):
    """Wrong old passwords are counted as those at the entrance are."""

    def __init__(self, request: HttpRequest, *args, **kwargs):
        super().__init__(request.user, *args, **kwargs)
        self.request = request

    def clean_old_password(self) -> str:
        password = self.cleaned_data["old_password"]
        if authenticate(self.request, username=self.user.username, password=password) is None:
            mark_outcome(self.request, AuditRow.REFUSED)
            raise forms.ValidationError(self.error_messages["password_incorrect"], code="password_incorrect")
        return password
