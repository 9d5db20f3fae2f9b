"""`manage.py erase_again NUMBER ...`: after an older backup is back, whoever was erased since is erased anew."""
from django.core.management.base import BaseCommand, CommandError

from progress.actions.erasing import erase_student, tidy_database
from studio.locale import in_the_studio
from studio.models import Student, User


class Command(BaseCommand):
    help = "Erases the students whose certificates have these numbers; a number that nobody has is left alone."

    def add_arguments(self, parser) -> None:
        parser.add_argument("number", type=int, nargs="+")

    def handle(self, *args, number: list[int], **options) -> None:
        owner = User.objects.filter(role=User.OWNER, is_active=True).order_by("pk").first()
        if owner is None:
            raise CommandError("The studio has no owner in whose name somebody could be erased.")
        there = list(Student.objects.filter(pk__in=number, is_nameless=False))
        with in_the_studio():
            for student in there:
                erase_student(student=student, by=owner)
        tidy_database()
        self.stdout.write(f"{len(there)} of {len(set(number))} erased again; the others are not in this backup.")
