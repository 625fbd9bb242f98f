"""
The one table of roles, rooms and verbs, and the one place that enforces it.

A verb is a use case's name. A room is a page family that its app registers. What a role may see beyond its room
(its own route, its own warehouse) is a rule of the room's selectors.
"""

from dataclasses import dataclass
from typing import Any

from jobs.refusals import NotAllowed

DISPATCHER, WAREHOUSE, CREW_LEAD, MANAGER, SYSTEM = "dispatcher", "warehouse", "crew_lead", "manager", "system"
ROLES: dict[str, str] = {
    DISPATCHER: "Dispatcher",
    WAREHOUSE: "Warehouse",
    CREW_LEAD: "Crew lead",
    MANAGER: "Manager",
    SYSTEM: "The program itself",
}


@dataclass(frozen=True)
class Room:
    """A page family: its word in the address, its name on the screen, the roles that may enter."""

    word: str
    name: str
    address: str
    roles: frozenset[str]


ROOMS: tuple[Room, ...] = (
    Room("desk", "Desk", "/desk", frozenset({DISPATCHER, MANAGER})),
    Room("map", "Map", "/desk/map", frozenset({DISPATCHER, MANAGER})),
    Room("warehouse", "Warehouse", "/warehouse", frozenset({WAREHOUSE, MANAGER})),
    Room("crew", "My day", "/crew", frozenset({CREW_LEAD})),
    Room("manager", "Manager", "/manager", frozenset({MANAGER})),
    Room("admin", "Master data", "/admin/", frozenset({MANAGER})),
)

_DESK = frozenset({DISPATCHER, MANAGER})
_FLOOR = frozenset({WAREHOUSE, MANAGER})
_FIELD = frozenset({CREW_LEAD, MANAGER})
_ALL = frozenset({DISPATCHER, WAREHOUSE, CREW_LEAD, MANAGER})

VERBS: dict[str, frozenset[str]] = {
    # The call desk
    "agree_another_time": _DESK,
    "take_call": _DESK,
    "answer_call": _DESK,
    "end_call": _DESK,
    "join_caller": _DESK,
    "hear_practice_line": _DESK,
    "mark_looked": _DESK,
    "meet_promise": _DESK,
    "merge_jobs": _DESK,
    "split_caller": _DESK,
    "split_jobs": _DESK,
    "estimate": _DESK | _FIELD,
    "size_job": _DESK | _FIELD,
    "set_leads_word": _DESK | _FIELD,
    "send": _DESK,
    "override": frozenset({MANAGER}),
    "make_shift": _DESK,
    "swap_shifts": _DESK,
    "cover_shift": _DESK,
    "cancel_shift": _DESK,
    "order_call_outs": _DESK,
    "ring_practice_call": _DESK,
    "set_urgency": frozenset({MANAGER}),
    "book_visit": _DESK,
    "release_lead": _DESK,
    "set_how_to_reach": _DESK,
    "answer_call_out": _DESK | _FIELD,
    "ask_for_help": _DESK,
    "decline_help": _DESK,
    "give_help": _DESK,
    "lend_crew": frozenset({MANAGER}),
    "end_loan": frozenset({MANAGER}),
    "take_back_help": _DESK,
    "plan_day": _DESK,
    "ask_what_if": _DESK,
    "publish_plan": _DESK,
    "withdraw_plan": _DESK,
    "add_visit": _DESK,
    "miss_visit": _DESK | _FIELD,
    "authorize_job": _DESK | _FIELD,
    "close_job": _DESK,
    "enter_billed_days": _DESK,
    "import_billed_days": _DESK,
    # Equipment
    "hold": _DESK | _FLOOR,
    "confirm_hold": _DESK | _FLOOR,
    "extend_hold": _DESK | _FLOOR,
    "shorten_hold": _DESK | _FLOOR,
    "release_hold": _DESK | _FLOOR,
    "scan_out": _FLOOR | _FIELD,
    "scan_in": _FLOOR | _FIELD,
    "undo_scan": _FLOOR | _FIELD,
    "move_units": _FLOOR | _FIELD,
    "send_transfer": _FLOOR,
    "receive_transfer": _FLOOR,
    "set_condition": _FLOOR,
    "count_units": _FLOOR | _FIELD,
    "draw_count_list": _FLOOR,
    "count_by_model": _FLOOR | _FIELD,
    "name_fast_count": _FLOOR | _FIELD,
    "take_back_number": _FLOOR | _FIELD,
    "explain_fast_count": _FLOOR,
    "not_found": _FLOOR,
    "settle_discrepancy": _FLOOR,
    "correct_move": _FLOOR,
    "write_load_list": _DESK | _FLOOR,
    "rent_in": _FLOOR,
    "lend_units": frozenset({MANAGER}),
    "call_off": _FLOOR,
    "close_hold": _DESK | _FLOOR,
    "cancel_load_list": _DESK | _FLOOR,
    "settle_alarm": _DESK | _FLOOR,
    "enter_units": frozenset({MANAGER}),
    "record_service": _FLOOR,
    "take_counted": _FLOOR | _FIELD,
    "add_counted": _FLOOR | _FIELD,
    "move_counted": _FLOOR | _FIELD,
    "count_counted": _FLOOR | _FIELD,
    "set_counted_minimum": _FLOOR,
    "import_models": frozenset({MANAGER}),
    "import_units": _FLOOR,
    "change_vehicle": _DESK | _FLOOR,
    # The crew's day
    "count_at_job": _FIELD,
    "keep_power_plan": _FIELD,
    "read_meters": _FIELD,
    "mark_loaded": _FIELD,
    "tell_position": frozenset({CREW_LEAD}),
    "forget_position": frozenset({CREW_LEAD}),
    "leave_for_stop": _FIELD,
    "arrive_at_stop": _FIELD,
    "run_late": _FIELD,
    "place_units": _FIELD,
    "take_up_units": _FIELD,
    "add_point": _FIELD,
    "keep_photo": _FIELD | _DESK,
    "keep_signature": _FIELD | _DESK,
    "record_readings": _FIELD,
    "record_stop_readings": _FIELD,
    "correct_reading": _FIELD,
    "finish_stop": _FIELD,
    "cannot_work": _FIELD,
    # Sign-ins of programs
    "make_token": frozenset({MANAGER}),
    "revoke_token": frozenset({MANAGER}),
    # Master data
    "import_company": frozenset({MANAGER}),
    "tell_demo_job": frozenset(),
    "write_demo_hours": frozenset(),
    # Timers
    "expire_hold": frozenset(),
    "end_of_promise": frozenset(),
    "answer_by_link": frozenset(),
    "escalate_call_out": frozenset(),
    "page_again": frozenset(),
    "run_plan": frozenset(),
    "tell_who_waits": frozenset(),
    "erase_on_schedule": frozenset(),
}


@dataclass(frozen=True)
class Scope:
    """What a token may do of all that its user may: read, some verbs, some areas (None: all of the user's)."""

    name: str
    reads: bool
    verbs: frozenset[str]
    area_ids: frozenset[int] | None


def memberships_of(user: Any) -> frozenset[tuple[str, int | None]]:
    """The user's roles, each with its area (None: in all), read once a request; a superuser is a manager everywhere."""
    found: frozenset[tuple[str, int | None]] | None = getattr(user, "_ebbline_roles", None)
    if found is None:
        found = frozenset(user.memberships.values_list("role", "area_id"))
        if user.is_superuser:
            found |= {(MANAGER, None)}
        user._ebbline_roles = found
    return found


def roles_of(user: Any) -> frozenset[str]:
    """The user's roles in whatever area."""
    return frozenset(role for role, _ in memberships_of(user))


def limit(user: Any, scope: Scope) -> None:
    """Let this user object, for as long as it lives, do no more than the scope allows."""
    user._ebbline_scope = scope


def scope_of(user: Any) -> Scope | None:
    """The limit of the token that the user signed in with; None for a person at a page."""
    found: Scope | None = getattr(user, "_ebbline_scope", None)
    return found


def areas_of(user: Any) -> frozenset[int] | None:
    """The areas of the user's roles; None for all of them."""
    return _areas(user, frozenset(ROLES))


def areas_for(user: Any, verb: str) -> frozenset[int] | None:
    """The areas in which one of the user's roles holds the verb; None for all of them."""
    return _areas(user, VERBS[verb] | {SYSTEM})


def _areas(user: Any, roles: frozenset[str]) -> frozenset[int] | None:
    found = {area for role, area in memberships_of(user) if role in roles}
    scope = scope_of(user)
    limited = None if scope is None else scope.area_ids
    if None in found:
        return limited
    mine = frozenset(area for area in found if area is not None)
    return mine if limited is None else mine & limited


def rooms_of(user: Any) -> tuple[Room, ...]:
    """The rooms that the user may enter, in the order of the table."""
    mine = roles_of(user)
    return tuple(room for room in ROOMS if room.roles & mine)


def may(user: Any, verb: str) -> bool:
    """Whether one of the user's roles holds the verb, and the token allows it; the program itself holds all of them."""
    mine, scope = roles_of(user), scope_of(user)
    allowed = scope is None or verb in scope.verbs
    return allowed and (SYSTEM in mine or bool(VERBS[verb] & mine))


def require_reading(user: Any) -> None:
    """
    :raises NotAllowed: if the user signed in with a token that may not read.
    """
    scope = scope_of(user)
    if scope is not None and not scope.reads:
        raise NotAllowed(f"The token {scope.name} may not read. Ask a manager for one that may.")


def require(user: Any, verb: str) -> None:
    """
    :raises NotAllowed: if none of the user's roles holds the verb.
    """
    scope = scope_of(user)
    if scope is not None and verb not in scope.verbs:
        told = verb.replace("_", " ")
        raise NotAllowed(f"The token {scope.name} may not do this ({told}). Ask a manager for one that may.", verb=verb)
    if not may(user, verb):
        allowed = ", ".join(sorted(ROLES[role] for role in VERBS[verb])) or "only the program itself"
        raise NotAllowed(f"Your role may not do this ({verb.replace('_', ' ')}). Who may: {allowed}.", verb=verb)


def require_room(user: Any, word: str) -> None:
    """
    :raises NotAllowed: if none of the user's roles may enter the room.
    """
    room = next(room for room in ROOMS if room.word == word)
    if not room.roles & roles_of(user):
        allowed = ", ".join(sorted(ROLES[role] for role in room.roles))
        raise NotAllowed(f"{room.name} is open to: {allowed}. Sign in with such a role.", room=word)
