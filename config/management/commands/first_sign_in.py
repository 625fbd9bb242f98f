"""Make the first manager, who can make everyone else."""

import getpass
from typing import Any

from django.contrib.auth.models import User
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import transaction

from jobs.access import MANAGER
from jobs.models import Area, Membership


class Command(BaseCommand):
    help = "Make a manager's sign-in. Asks for the password, or reads one line from standard input with --stdin."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("user_name")
        parser.add_argument("--area", default="main", help="code of the area, made if it does not exist")
        parser.add_argument("--stdin", action="store_true", help="read the password from standard input")

    def handle(self, *args: Any, user_name: str, area: str, stdin: bool, **options: Any) -> None:
        if User.objects.filter(username=user_name).exists():
            raise CommandError(f"There is already a sign-in {user_name!r}. Choose another name.")
        password = input() if stdin else getpass.getpass("Password: ")
        try:
            validate_password(password, User(username=user_name))
        except ValidationError as error:
            raise CommandError(" ".join(error.messages)) from error
        with transaction.atomic():
            place, _ = Area.objects.get_or_create(code=area, defaults={"name": area.replace("-", " ").title()})
            # Staff and superuser: the master data pages are Django's own.
            user = User.objects.create_superuser(user_name, password=password)
            Membership.objects.create(user=user, area=place, role=MANAGER)
        self.stdout.write(f"{user_name} is a manager in {place.name}. Start the program with: manage.py serve")
