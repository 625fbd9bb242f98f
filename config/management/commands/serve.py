"""Run the whole program with one command."""

from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from config import serving


class Command(BaseCommand):
    help = "Bring the database to the newest shape, start the runner, and serve the pages."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--host", default="127.0.0.1")
        parser.add_argument("--port", type=int, default=8000)

    def handle(self, *args: Any, host: str, port: int, **options: Any) -> None:
        serving.prepare()
        with serving.runner():
            self.stdout.write(f"Ebbline answers at http://{host}:{port}/  (Ctrl+C stops it)")
            self.stdout.flush()
            serving.serve(host=host, port=port)
