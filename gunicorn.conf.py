"""How the web server runs; gunicorn reads this file by itself, and it may not know what Risebook does."""

# A studio has a few tablets and a desk, and SQLite has one writer at a time.
workers = 2
threads = 4
worker_class = "gthread"

# The access log would keep who looked at which student; errors still go to the terminal.
accesslog = None
loglevel = "warning"

# gunicorn's control socket would lie in the home folder, outside the checkout.
control_socket_disable = True


def when_ready(server):
    """Tell the person who started Risebook where it is, once it answers."""
    host, port = server.LISTENERS[0].getsockname()[:2]
    print(f"\nRisebook is ready at http://{host}:{port}/ (Ctrl-C stops it)", flush=True)
