"""What a form says of a field that is not right, in the house's own sentences; knows no form."""
from django import forms
from django.core import validators
from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext_lazy

_REQUIRED = _("Please fill this in.")
_NOT_LISTED = _("Please pick one of the list.")
_OF_FIELDS = {
    forms.Field: {"required": _REQUIRED},
    forms.BooleanField: {"required": _("Please tick this first.")},
    forms.DateField: {"invalid": _("We cannot read this as a day. Please pick it again.")},
    forms.TimeField: {"invalid": _("We cannot read this as a time. Write it like 16:45.")},
    forms.IntegerField: {"invalid": _("A whole number, please.")},
    forms.DecimalField: {"invalid": _("A number, please.")},
    forms.FloatField: {"invalid": _("A number, please.")},
    forms.ChoiceField: {"required": _NOT_LISTED, "invalid_choice": _NOT_LISTED},
    forms.ModelChoiceField: {"required": _NOT_LISTED, "invalid_choice": _NOT_LISTED},
    forms.MultipleChoiceField: {"invalid_choice": _NOT_LISTED, "invalid_list": _NOT_LISTED},
    forms.ModelMultipleChoiceField: {
        "invalid_choice": _NOT_LISTED, "invalid_list": _NOT_LISTED, "invalid_pk_value": _NOT_LISTED,
    },
    forms.FileField: {
        "required": _("Please choose a file."), "missing": _("Please choose a file."),
        "empty": _("This file is empty."), "invalid": _("This file did not arrive. Please choose it again."),
    },
}  # fmt: skip
_OF_VALIDATORS = {
    validators.EmailValidator: _("This is no e-mail address yet."),
    validators.MinValueValidator: _("At least %(limit_value)s, please."),
    validators.MaxValueValidator: _("At most %(limit_value)s, please."),
    validators.MaxLengthValidator: ngettext_lazy(
        "At most %(limit_value)d letter, please; these are %(show_value)d.",
        "At most %(limit_value)d letters, please; these are %(show_value)d.", "limit_value",
    ),
    validators.ProhibitNullCharactersValidator: _("There is a letter in it that we cannot store."),
}  # fmt: skip


def speak() -> None:
    """Gives every field and validator of the framework these sentences, once, before any form is made."""
    for field, words in _OF_FIELDS.items():
        field.default_error_messages = {**field.default_error_messages, **words}
    for validator, words in _OF_VALIDATORS.items():
        validator.message = words
