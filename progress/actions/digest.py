"""Sends the daily mail, once a day to each person, however often it is run."""
import datetime as dt
import logging

from django.core.mail import send_mail
from django.db.models import Q

from progress.queries.digest import Digest
from studio.family.mail import NOT_SENT, in_one_line
from studio.models import User

log = logging.getLogger(__name__)


def send_digest(*, digest: Digest, today: dt.date, studio_name: str, again: bool = False) -> bool:
    """True where it went out now. Claimed before it is sent, so that two runs never send it twice; given back
    where the mail server refused it, so that the next run tries anew."""
    person = User.objects.filter(pk=digest.person.pk)
    free = Q(digest_sent_on__isnull=True) | Q(digest_sent_on__lt=today)
    if not again and not person.filter(free).update(digest_sent_on=today):
        return False
    try:
        send_mail(f"{in_one_line(studio_name)}: {digest.subject}", digest.body, None, [digest.person.email])
    except NOT_SENT as problem:
        log.warning("The digest for %s was not sent: %s", digest.person.username, problem)
        person.update(digest_sent_on=digest.person.digest_sent_on)
        return False
    return True
