"""How the web server runs; gunicorn reads this file by itself, and it may know nothing of Risebook but its network."""
import os

# A studio has a few tablets and a desk, and SQLite has one writer at a time.
workers = 2
threads = 4
worker_class = "gthread"

# The access log would keep who looked at which student; errors still go to the terminal.
accesslog = None
loglevel = "warning"

# gunicorn's control socket would lie in the home folder, outside the checkout.
control_socket_disable = True

NETWORK = None
if os.environ.get("RISEBOOK_NETWORK"):
    # Only then, because what is imported here stays as it is when the workers are started anew.
    from studio.network.serving import PresentCertificate
    from studio.network.worker import ImpatientSocket, NetworkWorker
    from studio.settings import NETWORK

if NETWORK:
    certificate = PresentCertificate(NETWORK)
    NetworkWorker.network = NETWORK
    worker_class = NetworkWorker
    # One device is heard by four of them at once in each worker, and the others have theirs.
    threads = 16
    bind = NETWORK.bindings()
    certfile = certificate.file()
    # A tablet that asks every few seconds need not shake hands each time.
    keepalive = 30
    # Nobody stands in front, so nobody may say that plain http was HTTPS.
    forwarded_allow_ips = ""

    def ssl_context(_config, _usual_context):
        """Asked for every connection."""
        context = certificate.present()
        context.sslsocket_class = ImpatientSocket
        return context


def when_ready(server):
    """Tell the person who started Risebook where it is, once it answers."""
    if NETWORK:
        print(f"\nRisebook is ready at {NETWORK.studio_address()} (Ctrl-C stops it)")
        print(f"A tablet learns to trust it at {NETWORK.door_address()}")
        print(f"Fingerprint of its certificate (SHA-256): {certificate.fingerprint()}", flush=True)
        return
    host, port = server.LISTENERS[0].getsockname()[:2]
    print(f"\nRisebook is ready at http://{host}:{port}/ (Ctrl-C stops it)", flush=True)
