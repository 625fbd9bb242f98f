"""The API of tokens: for managers."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from jobs import access, tokens
from jobs.api_base import UseCaseView, key_of, read, reads, writes
from jobs.people import signed_in


@dataclass(frozen=True)
class TokenTold:
    """A token that was made, with what to sign in with: `Authorization: Token ...`. It is told here and never again."""

    token_id: int
    mark: str
    expires_at: datetime
    token: str


class MakeTokenIn(serializers.Serializer[Any]):
    """Whose, for which program, for how long, and how much of what that user may."""

    user_name = serializers.CharField(max_length=150)
    name = serializers.CharField(max_length=60)
    days = serializers.IntegerField(min_value=1, max_value=tokens.LONGEST_DAYS)
    reads = serializers.BooleanField(default=True)
    verbs = serializers.ListField(child=serializers.CharField(max_length=40), default=list, max_length=200)
    area_codes = serializers.ListField(child=serializers.SlugField(max_length=20), default=list, max_length=100)


class TokensView(UseCaseView):
    """Tokens of programs; making one."""

    verbs = {"POST": "make_token"}
    roles = frozenset({access.MANAGER})

    @reads(tokens.TokenLine, many=True)
    def get(self, request: Request) -> Response:
        return self.answer(tokens.tokens(signed_in(request.user), now=timezone.now()))

    @writes(MakeTokenIn, TokenTold, status=201)
    def post(self, request: Request) -> Response:
        sent = read(MakeTokenIn, request)
        sent |= {"verbs": tuple(sent["verbs"]), "area_codes": tuple(sent["area_codes"])}
        made = tokens.make_token(**self.common(request), **sent)
        told = TokenTold(made.token_id, made.mark, made.expires_at, tokens.secret_of(key_of(request)))
        return self.answer(told, status=201)


class RevokeTokenView(UseCaseView):
    """End a token at once."""

    verbs = {"POST": "revoke_token"}
    state_of = TokensView

    @writes(None, tokens.TokenMade)
    def post(self, request: Request, token_id: int) -> Response:
        return self.answer(tokens.revoke_token(**self.common(request), token_id=token_id))
