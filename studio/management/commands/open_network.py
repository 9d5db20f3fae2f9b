"""Makes ready what `./risebook run --network` needs: ports, the studio's authority, this computer's certificate."""
from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from studio.network.addresses import NetworkProblem, check_listening
from studio.network.serving import PresentCertificate


class Command(BaseCommand):
    help = "Checks the network that RISEBOOK_NETWORK names and makes its certificates; run again, it changes nothing."
    requires_system_checks = []

    def handle(self, *args, **options):
        if settings.NETWORK is None:
            raise CommandError("RISEBOOK_NETWORK does not name a port, or a web server speaks HTTPS for Risebook.")
        try:
            check_listening(settings.NETWORK)
            PresentCertificate(settings.NETWORK).present()
        except NetworkProblem as why:
            raise CommandError(str(why)) from why
        except OSError as why:
            raise CommandError(f"{settings.NETWORK.folder} cannot be written: {why.strerror}.") from why
