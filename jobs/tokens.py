"""Tokens of programs: made once and shown once, kept as a digest, limited, expiring, revoked at once."""

import hashlib
from base64 import urlsafe_b64encode
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from django.contrib.auth.models import User
from django.db.models import Q
from django.utils.crypto import salted_hmac

from jobs import access
from jobs.models import ApiToken, Area
from jobs.refusals import NotThere, Refusal, Unusable
from jobs.use_case import use_case

LONGEST_DAYS = 366
# Written no more often than this, so that a busy program does not write with each read.
USED_EVERY = timedelta(minutes=1)
_PREFIX = "ebb_"
# A token that makes tokens would outlive its own end.
NEVER = frozenset({"make_token", "revoke_token"})


class TokenOver(Refusal):
    """The token was revoked before."""

    code = "token_over"


@dataclass(frozen=True)
class TokenMade:
    """A token that was made. What to sign in with is told beside it, once."""

    token_id: int
    mark: str
    expires_at: datetime


@dataclass(frozen=True)
class TokenLine:
    """A token in the list: whose, what it may, until when, when last used."""

    token_id: int
    mark: str
    name: str
    user_name: str
    reads: bool
    verbs: tuple[str, ...]
    areas: tuple[str, ...]
    made_at: datetime
    made_by: str
    expires_at: datetime
    revoked_at: datetime | None
    last_used_at: datetime | None
    state: str


def secret_of(key: UUID) -> str:
    """
    The token that was made with a key. The program's secret is in it, so that the key alone tells nothing.

    The same key gives the same token: an answer that got lost can be asked for again, and is stored nowhere.
    """
    digest = salted_hmac("ebbline.api_token", str(key), algorithm="sha256").digest()
    return _PREFIX + urlsafe_b64encode(digest).decode().rstrip("=")


@use_case("make_token")
def make_token(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    user_name: str,
    name: str,
    days: int,
    reads: bool = True,
    verbs: tuple[str, ...] = (),
    area_codes: tuple[str, ...] = (),
) -> TokenMade:
    """
    Make a token for a user of the actor's areas; without area codes it reaches all areas of that user.

    :raises Unusable: if name, days, verbs or areas cannot be meant; `where` names the one.
    :raises NotThere: if no such user works in the actor's areas.
    """
    user = _user(user_name, actor)
    if not name.strip():
        raise Unusable("Give the token a name that says which program uses it.", where="name")
    if not 1 <= days <= LONGEST_DAYS:
        raise Unusable(f"A token lasts 1 to {LONGEST_DAYS} days.", where="days")
    if unknown := sorted(set(verbs) - access.VERBS.keys()):
        raise Unusable(f"There is no verb {unknown[0]}. DEVELOPERS.md lists them.", where="verbs")
    if kept := sorted(NEVER & set(verbs)):
        raise Unusable(f"No token may do this ({kept[0]}): it is done by a person.", where="verbs")
    if beyond := [verb for verb in verbs if not access.may(user, verb)]:
        raise Unusable(f"{user_name} may not do this ({beyond[0]}), so no token of theirs can.", where="verbs")
    if not reads and not verbs:
        raise Unusable("This token could do nothing. Let it read, or give it a verb.", where="verbs")
    secret = secret_of(key)
    token = ApiToken.objects.create(
        name=name.strip()[:60],
        user=user,
        mark=secret[: len(_PREFIX) + 6],
        digest=_digest(secret),
        reads=reads,
        verbs=sorted(set(verbs)),
        area_ids=_area_ids(area_codes, user) if area_codes else None,
        made_at=now,
        made_by=actor,
        expires_at=now + timedelta(days=days),
    )
    return TokenMade(token.pk, token.mark, token.expires_at)


@use_case("revoke_token")
def revoke_token(*, key: UUID, actor: User, now: datetime, token_id: int) -> TokenMade:
    """
    End a token; the next request with it is refused.

    :raises NotThere: if there is none in the actor's areas.
    :raises TokenOver: if it was revoked before.
    """
    token = ApiToken.objects.select_for_update().filter(pk=token_id).first()
    if token is None or not _reaches(actor, token.user):
        raise NotThere(f"There is no token {token_id} for you. See the list of tokens.")
    if token.revoked_at is not None:
        raise TokenOver(f"{token.mark} was revoked on {token.revoked_at:%Y-%m-%d} already.")
    token.revoked_at, token.revoked_by = now, actor
    token.save(update_fields=["revoked_at", "revoked_by"])
    return TokenMade(token.pk, token.mark, token.expires_at)


def tokens(viewer: User, *, now: datetime) -> tuple[TokenLine, ...]:
    """Every token of users in the viewer's areas, the newest first."""
    areas = dict(Area.objects.values_list("pk", "code"))
    rows = ApiToken.objects.select_related("user", "made_by").order_by("-made_at", "-pk")
    mine = access.areas_of(viewer)
    if mine is not None:
        rows = rows.exclude(user__is_superuser=True).exclude(
            Q(user__memberships__area__isnull=True) | Q(user__memberships__area__in=areas.keys() - mine)
        )
    return tuple(_line(row, areas, now) for row in rows)


def token_holder(secret: str, *, now: datetime) -> User | None:
    """The user of a token that is good at this moment, limited to what it may; None for any other text."""
    rows = ApiToken.objects.select_related("user")
    token = rows.filter(digest=_digest(secret), revoked_at=None, expires_at__gt=now, user__is_active=True).first()
    if token is None:
        return None
    if token.last_used_at is None or now - token.last_used_at >= USED_EVERY:
        ApiToken.objects.filter(pk=token.pk).update(last_used_at=now)
    areas = None if token.area_ids is None else frozenset(token.area_ids)
    user: User = token.user
    access.limit(user, access.Scope(token.mark, token.reads, frozenset(token.verbs), areas))
    return user


def _user(user_name: str, actor: User) -> User:
    user = User.objects.filter(username=user_name, is_active=True).first()
    if user is None or not _reaches(actor, user):
        raise NotThere(f"Nobody named {user_name!r} works in your areas.", where="user_name")
    return user


def _reaches(actor: User, user: User) -> bool:
    """Whether the user may nothing outside the actor's areas: else a token would be a way out of them."""
    mine, theirs = access.areas_of(actor), access.areas_of(user)
    return mine is None or (theirs is not None and theirs <= mine)


def _area_ids(codes: tuple[str, ...], user: User) -> list[int]:
    found = dict(Area.objects.filter(code__in=codes).values_list("code", "pk"))
    theirs = access.areas_of(user)
    if wrong := [code for code in codes if code not in found or (theirs is not None and found[code] not in theirs)]:
        raise Unusable(f"{user.username} has no area {wrong[0]!r}.", where="area_codes")
    return sorted(found.values())


def _line(row: ApiToken, areas: dict[int, str], now: datetime) -> TokenLine:
    state = "revoked" if row.revoked_at else "expired" if row.expires_at <= now else "in use"
    return TokenLine(
        row.pk,
        row.mark,
        row.name,
        row.user.username,
        row.reads,
        tuple(row.verbs),
        tuple(areas.get(pk, "?") for pk in row.area_ids or ()),
        row.made_at,
        row.made_by.username,
        row.expires_at,
        row.revoked_at,
        row.last_used_at,
        state,
    )


def _digest(secret: str) -> str:
    # Not a password: 256 random bits need no slow hash.
    return hashlib.sha256(secret.encode()).hexdigest()
