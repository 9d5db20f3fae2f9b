"""Sends a guardian the link where the studio has set up mail; the subject names nobody."""
from smtplib import SMTPException

from django.conf import settings
from django.core.mail import send_mail
from django.utils.translation import gettext as _

from studio.models import Guardian, Studio

# What a mail server says, or that there is none.
NOT_SENT = (SMTPException, OSError, ValueError)


def in_one_line(text: str) -> str:
    """For a subject, in which a line break is refused."""
    return " ".join(text.split())


def is_set_up() -> bool:
    return bool(settings.MAIL_URL)


def send_link(guardian: Guardian, address: str, *, studio: Studio) -> None:
    """In the language that is active; the birth date, without which the link opens nothing, is never in it."""
    send_mail(
        _("A page for you from %(studio)s") % {"studio": in_one_line(studio.name)},
        _("This is your private link:\n\n%(address)s\n\nThe first time you open it on a device, it asks for the birth "
          "date of your child. Please do not pass it on. If it got lost, tell us and we end it.\n\n%(studio)s")
        % {"address": address, "studio": studio.name},
        None, [guardian.email],
    )
