"""`manage.py serve`: brewlog for one PC, and the phones around it."""

from __future__ import annotations

import signal
import sys
from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand
from django.core.servers.basehttp import get_internal_wsgi_application
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from waitress.server import create_server

from brewlog.management.serving import AddressError, listen, names_of_this_machine, read_address
from brewlog.models import User
from brewlog.setup_code import new_code

CANNOT_LISTEN = 1


class Command(BaseCommand):
    help = (
        "Serve brewlog until Ctrl+C. The database is made or brought up to date first. With "
        "--address 0.0.0.0:8000, phones on the same network reach it too."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--address", default=settings.ADDRESS, help="%(default)s")
        parser.add_argument("--threads", type=int, default=8, help="pages at once: %(default)s")

    def handle(self, *args: Any, address: str, threads: int, **options: Any) -> None:
        try:
            wanted = read_address(address)
            opened = listen(wanted)
        except AddressError as error:
            self.stderr.write(str(error))
            sys.exit(CANNOT_LISTEN)
        self._bring_up_to_date()
        port = opened.getsockname()[1]
        places = [f"http://127.0.0.1:{port}/"]
        if wanted.is_everywhere:
            names = names_of_this_machine()
            settings.ALLOWED_HOSTS = [*settings.ALLOWED_HOSTS, *names]
            places += [f"http://{name}:{port}/" for name in names]
        elif wanted.host != "127.0.0.1":
            settings.ALLOWED_HOSTS = [*settings.ALLOWED_HOSTS, wanted.host]
            places = [f"http://{wanted}/"]
        self.stdout.write(f"brewlog is at {' or '.join(places)}")
        self._say_how_to_begin(places[0])
        self.stdout.write("Ctrl+C stops it.")
        self.stdout.flush()
        # A service manager's stop ends it as Ctrl+C does: pages being made are finished.
        signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))
        application = get_internal_wsgi_application()
        create_server(application, sockets=[opened], threads=threads, ident="brewlog").run()

    def _bring_up_to_date(self) -> None:
        executor = MigrationExecutor(connection)
        if executor.migration_plan(executor.loader.graph.leaf_nodes()):
            self.stdout.write("Bringing the database up to date.")
            self.stdout.flush()
            call_command("migrate", interactive=False, verbosity=0)

    def _say_how_to_begin(self, place: str) -> None:
        if User.objects.filter(is_active=True, groups__name="manager").exists():
            return
        by_command = "python manage.py first_manager USERNAME 'Full Name'"
        if User.objects.exists():
            self.stdout.write(f"No manager can log in. Make one in another window: {by_command}")
            return
        self.stdout.write(
            f"Nobody can log in yet. Make the first manager at {place}first-manager/ with the "
            f"set-up code {new_code()}, or in another window: {by_command}"
        )
