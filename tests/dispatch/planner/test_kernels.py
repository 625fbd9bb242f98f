"""The compiled arithmetic equals the plain one to the unit, on any route of any day."""

from __future__ import annotations

from random import Random

from hypothesis import given, settings
from hypothesis import strategies as st

from dispatch.planner.compact import END, SKIP, compact_of
from dispatch.planner.frame import frame_of
from dispatch.planner.kernels import COST, STOPS, VERSION, State, empty_state, insert, refresh, refresh_all
from dispatch.planner.places import DEAR, cheapest
from dispatch.planner.schedule import Timed, schedule
from dispatch.planner.work import work_of
from tests.dispatch.planner.random_days import random_day


@settings(max_examples=150, deadline=None)
@given(st.integers(0, 10**6))
def test_a_route_costs_the_same_compiled_and_plain(seed: int) -> None:
    rng = Random(seed)
    frame = frame_of(random_day(seed))
    compact = compact_of(frame)
    state = empty_state(compact.day)
    for c in range(len(frame.crews)):
        lock = frame.under_way[c]
        able = [i for i, v in enumerate(compact.visits) if compact.day.assign[i, c] >= 0 and v != lock]
        for _ in range(8):
            nodes = rng.sample(able, rng.randint(0, min(6, len(able))))
            if lock is not None:
                nodes = [compact.node_of[lock], *nodes]
                if compact.day.assign[nodes[0], c] < 0:
                    break
            state.node[c, 1 : 1 + len(nodes)] = nodes
            state.node[c, 1 + len(nodes)] = compact.day.crew[c, END]
            state.route[c, STOPS] = len(nodes)
            holds = refresh(compact.day, state, c)
            plain = schedule(frame, c, (*frame.begun[c], *(compact.visits[i] for i in nodes)))
            assert (int(state.route[c, COST]) if holds else None) == (plain.cost if isinstance(plain, Timed) else None)


@settings(max_examples=100, deadline=None)
@given(st.integers(0, 10**6))
def test_the_cheapest_place_is_the_cheapest_of_all_places(seed: int) -> None:
    """Without overlooking any; arcs that save time by a detour may hide one, so travel here keeps the triangle."""
    frame = frame_of(random_day(seed, begun=False))
    compact = compact_of(frame)
    day = compact.day
    state, work = empty_state(day), work_of(day, seed)
    refresh_all(day, state)
    for v in range(len(day.visit)):
        cost, c, i = cheapest(day, state, work, v, 0.0)
        plain = DEAR
        for crew in range(len(frame.crews)):
            if day.assign[v, crew] < 0:
                continue
            stops = [compact.visits[int(n)] for n in state.node[crew, 1 : 1 + state.route[crew, STOPS]]]
            for at in range(len(stops) + 1):
                longer = schedule(frame, crew, (*stops[:at], compact.visits[v], *stops[at:]))
                if isinstance(longer, Timed):
                    plain = min(plain, longer.cost - int(state.route[crew, COST]))
        if frame.problem.travel is not None and _keeps_triangle(frame.seconds) and _keeps_triangle(frame.meters):
            assert cost == plain
        assert cost >= plain
        if cost < day.visit[v, SKIP]:
            before = int(state.route[c, COST])
            insert(day, state, c, i, v, cost)
            kept = _shown(state, c)
            assert refresh(day, state, c)
            assert int(state.route[c, COST]) - before == cost
            assert kept == _shown(state, c)


def _shown(state: State, c: int) -> list[list[object]]:
    """All that stands beside one route, but for its version."""
    n = int(state.route[c, STOPS])
    rows = (state.node[c, : n + 2], state.gap[c, : n + 1], state.time[c, : n + 2], state.peak[c, : n + 1])
    return [row.tolist() for row in (*rows, state.route[c, :VERSION], state.at)]


def _keeps_triangle(rows: tuple[tuple[int, ...], ...]) -> bool:
    n = range(len(rows))
    return all(rows[a][b] <= rows[a][c] + rows[c][b] for a in n for b in n for c in n)
