"""What the first start makes: stages, the catalogue, the owner's account with its password printed once, the demo."""
from django.core.management import call_command
from django.core.management.base import BaseCommand
from django.utils import timezone

from progress.actions.classwork.exercises import fill_in_exercises
from progress.actions.finished_terms import keep_every_finished_term
from progress.actions.standings import judge_where_nothing_is_judged
from screening.actions import fill_in_catalogue
from studio.actions import make_owner, make_stages
from studio.queries import studio_day


class Command(BaseCommand):
    help = "Makes stages, catalogue and the owner's account; run again, it changes nothing."

    def add_arguments(self, parser):
        parser.add_argument("--username", default="owner")
        parser.add_argument("--name", default="Owner")
        parser.add_argument("--empty", action="store_true", help="without the demo studio")

    def handle(self, *args, **options):
        make_stages()
        fill_in_catalogue()
        fill_in_exercises()
        # For a studio that moves up to a version which judges otherwise: it has thrown away what was judged.
        judge_where_nothing_is_judged(today=studio_day(timezone.now()))
        # For a studio whose terms ended before what was judged of them was kept.
        keep_every_finished_term(today=studio_day(timezone.now()))
        password = make_owner(username=options["username"], name=options["name"])
        if password is not None:
            self.stdout.write(f"The owner's account is made. Log in as {options['username']} with the password")
            self.stdout.write(f"\n    {password}\n")
            self.stdout.write("It is shown this once. Change it under your name after logging in.")
            if not options["empty"]:
                call_command("load_demo", stdout=self.stdout)
