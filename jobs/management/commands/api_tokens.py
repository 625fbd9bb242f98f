"""Tokens of programs, from the command line: made, listed, revoked."""

from collections.abc import Callable
from typing import Any
from uuid import uuid4

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from jobs import tokens
from jobs.models import ApiToken
from jobs.people import system_user
from jobs.refusals import Refusal


class Command(BaseCommand):
    help = "Make, list and revoke tokens with which programs sign in to the API."

    def add_arguments(self, parser: CommandParser) -> None:
        does = parser.add_subparsers(dest="does", required=True)
        make = does.add_parser("make", help="make a token and print it, once")
        make.add_argument("user_name")
        make.add_argument("--name", required=True, help="which program uses it")
        make.add_argument("--days", type=int, default=90, help="how long it lasts (90)")
        make.add_argument("--verb", action="append", default=[], help="a verb that it may do; again for more")
        make.add_argument("--no-reading", action="store_true", help="it may not read")
        make.add_argument("--area", action="append", default=[], help="code of an area; all of the user's without")
        does.add_parser("list", help="every token, without what it is")
        revoke = does.add_parser("revoke", help="end a token at once")
        revoke.add_argument("mark", help="its beginning, as the list shows it")

    def handle(self, *args: Any, does: str, **options: Any) -> None:
        try:
            verbs: dict[str, Callable[..., None]] = {"make": self._make, "list": self._list, "revoke": self._revoke}
            verbs[does](**options)
        except Refusal as refusal:
            raise CommandError(refusal.message, returncode=2) from refusal

    def _make(self, *, user_name: str, name: str, days: int, **options: Any) -> None:
        key = uuid4()
        made = tokens.make_token(
            key=key,
            actor=system_user(),
            now=timezone.now(),
            user_name=user_name,
            name=name,
            days=days,
            reads=not options["no_reading"],
            verbs=tuple(options["verb"]),
            area_codes=tuple(options["area"]),
        )
        self.stdout.write(tokens.secret_of(key))
        self.stderr.write(f"Keep it now: it is not shown again. It lasts until {made.expires_at:%Y-%m-%d}.")

    def _list(self, **options: Any) -> None:
        for row in tokens.tokens(system_user(), now=timezone.now()):
            used = f"last used {row.last_used_at:%Y-%m-%d %H:%M}" if row.last_used_at else "never used"
            may = ", ".join([*(["reads"] if row.reads else []), *row.verbs])
            where = f" in {', '.join(row.areas)}" if row.areas else ""
            self.stdout.write(f"{row.mark}  {row.state}, until {row.expires_at:%Y-%m-%d}, {used}")
            self.stdout.write(f"    {row.name}, as {row.user_name}{where}: {may}")

    def _revoke(self, *, mark: str, **options: Any) -> None:
        found = ApiToken.objects.filter(mark=mark).first()
        if found is None:
            raise CommandError(f"No token begins with {mark}. See: manage.py api_tokens list", returncode=2)
        tokens.revoke_token(key=uuid4(), actor=system_user(), now=timezone.now(), token_id=found.pk)
        self.stdout.write(f"{mark} is revoked.")
