"""`manage.py check_up`: is it well; each thing in words, with what to do. Ends with 1 where something is bad."""
import sys

from django.core.management.base import BaseCommand
from django.db import DatabaseError
from django.utils import timezone

from studio.locale import in_the_studio
from studio.upkeep.wellness import BAD, SOON, findings

MARKS = {BAD: "!!", SOON: "! "}


class Command(BaseCommand):
    help = "Says how the studio's computer is doing, and what to do where something is wrong."
    requires_system_checks = []

    def handle(self, *args, **options) -> None:
        try:
            with in_the_studio():
                found = findings(timezone.now(), thorough=True)
        except DatabaseError:
            # Without the studio's own language and time.
            found = findings(timezone.now(), thorough=True)
        for each in found:
            self.stdout.write(f"{MARKS.get(each.state, '  ')} {each.name}: {each.words}")
            if each.todo:
                self.stdout.write(f"     {each.todo}")
        if any(each.state == BAD for each in found):
            sys.exit(1)
