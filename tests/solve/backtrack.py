"""The compiled part of the exhaustive search: plain backtracking over all poses of all parts.

Shares no code with the engine's own search.
"""

from __future__ import annotations

import numpy as np
from numba import njit


@njit(cache=True)
def count_up(owner, strips, joins, n_joins, n_nets, rest, piece_of, lead, pieces):  # type: ignore[no-untyped-def]
    """(jumpers, cuts) that the pins on the board need at least; (-1, 0) when two nets cannot be kept apart.

    ``rest[net]``: joins that parts not yet placed may still make.
    """
    n_pieces, cuts, hole = 0, 0, 0
    for s in range(strips.shape[0]):
        last, last_at = -1, -1
        for _ in range(strips[s, 0]):
            net = owner[hole]
            if net >= 0:
                if net != last:
                    if last >= 0:
                        if strips[s, 2] == 0 and (strips[s, 1] == 0 or hole - last_at < 2):
                            return -1, 0
                        cuts += 1
                    pieces[n_pieces] = net
                    lead[n_pieces] = n_pieces
                    n_pieces += 1
                piece_of[hole] = n_pieces - 1
                last, last_at = net, hole
            hole += 1
    for j in range(n_joins):
        a, b = piece_of[joins[j, 0]], piece_of[joins[j, 1]]
        while lead[a] != a:
            a = lead[a]
        while lead[b] != b:
            b = lead[b]
        lead[a] = b
    jumpers = 0
    for net in range(n_nets):
        parts = 0
        for i in range(n_pieces):
            if pieces[i] == net and lead[i] == i:
                parts += 1
        jumpers += max(0, parts - 1 - rest[net])
    return jumpers, cuts


@njit(cache=True)
def plainly_wired(owner, is_open, strips, lead, pieces, n_nets):  # type: ignore[no-untyped-def]
    """Do the holes suffice with one cut between each two nets on a strip and no junctions? All cuts are tried."""
    n_holes = owner.shape[0]
    free = np.zeros(n_holes + 1, np.int64)
    gap_left = np.zeros(n_holes + 1, np.int64)
    n_ways = np.zeros(n_holes + 1, np.int64)
    to_left = np.zeros((n_holes + 1, n_holes + 1), np.int64)
    to_right = np.zeros((n_holes + 1, n_holes + 1), np.int64)
    n_pieces, n_gaps, hole = 0, 0, 0
    for s in range(strips.shape[0]):
        last, last_at, size = -1, -1, 0
        for _ in range(strips[s, 0]):
            net = owner[hole]
            if net < 0:
                size += 1 if is_open[hole] else 0
            else:
                if last < 0:
                    free[n_pieces] += size
                    n_pieces += 1
                elif net == last:
                    free[n_pieces - 1] += size
                else:
                    gap_left[n_gaps] = n_pieces - 1
                    before = 0
                    for h in range(last_at + 1, hole + 1):  # a knife before hole h, or a drill at it
                        if strips[s, 2] == 1:
                            to_left[n_gaps, n_ways[n_gaps]] = before
                            to_right[n_gaps, n_ways[n_gaps]] = size - before
                            n_ways[n_gaps] += 1
                        after = before + (1 if is_open[h] else 0)
                        if strips[s, 1] == 1 and h < hole:
                            to_left[n_gaps, n_ways[n_gaps]] = before
                            to_right[n_gaps, n_ways[n_gaps]] = size - after
                            n_ways[n_gaps] += 1
                        before = after
                    n_gaps += 1
                    n_pieces += 1
                last, last_at, size = net, hole, 0
            hole += 1
        if last >= 0:
            free[n_pieces - 1] += size
    way = np.zeros(n_gaps + 1, np.int64)
    total = np.zeros(n_nets, np.int64)
    count = np.zeros(n_nets, np.int64)
    room = np.zeros(n_pieces + 1, np.int64)
    root = np.zeros(n_pieces + 1, np.int64)
    for i in range(n_pieces):
        r = i
        while lead[r] != r:
            r = lead[r]
        root[i] = r
        count[pieces[i]] += 1 if r == i else 0
    while True:
        room[:] = 0
        for i in range(n_pieces):
            room[root[i]] += free[i]
        for g in range(n_gaps):
            room[root[gap_left[g]]] += to_left[g, way[g]]
            room[root[gap_left[g] + 1]] += to_right[g, way[g]]
        total[:] = 0
        good = True
        for i in range(n_pieces):
            if root[i] == i:
                total[pieces[i]] += room[i]
                if count[pieces[i]] > 1 and room[i] == 0:
                    good = False
        for net in range(n_nets):
            if count[net] > 1 and total[net] < 2 * (count[net] - 1):
                good = False
        if good:
            return True
        g = 0
        while g < n_gaps:
            way[g] += 1
            if way[g] < n_ways[g]:
                break
            way[g] = 0
            g += 1
        if g == n_gaps:
            return False


@njit(cache=True)
def explore(  # type: ignore[no-untyped-def]
    level,
    jumper_cost,
    cut_cost,
    start,
    pose_holes,
    covers,
    barred,
    pin_net,
    joins,
    strips,
    agree,
    n_nets,
    most,
    choice,
    left,
):
    """Backtrack over all poses. (found, placements left for a closer look, nodes); nodes is -1 beyond ``most``."""
    n_parts = start.shape[0] - 1
    n_holes = 0
    for s in range(strips.shape[0]):
        n_holes += strips[s, 0]
    owner = np.full(n_holes, -1, np.int64)
    is_open = np.zeros(n_holes, np.bool_)
    piece_of = np.zeros(n_holes, np.int64)
    lead = np.zeros(n_holes + 1, np.int64)
    pieces = np.zeros(n_holes + 1, np.int64)
    made = np.zeros((joins.shape[0] + 1, 2), np.int64)
    rest = np.zeros(n_nets, np.int64)
    for j in range(joins.shape[0]):
        rest[pin_net[joins[j, 0], joins[j, 1]]] += 1
    nodes, n_left, n_made, k = 0, 0, 0, 0
    choice[0] = start[0] - 1
    while k >= 0:
        if choice[k] >= start[k]:  # take the last pose of this part off again
            for m in range(pose_holes.shape[1]):
                if pose_holes[choice[k], m] >= 0:
                    owner[pose_holes[choice[k], m]] = -1
            for j in range(joins.shape[0]):
                if joins[j, 0] == k:
                    rest[pin_net[k, joins[j, 1]]] += 1
                    n_made -= 1
        choice[k] += 1
        while choice[k] < start[k + 1]:
            fits = True
            for q in range(k):
                if not agree[choice[q], choice[k]]:
                    fits = False
                    break
            if fits:
                break
            choice[k] += 1
        if choice[k] >= start[k + 1]:
            choice[k] = -1
            k -= 1
            continue
        nodes += 1
        if nodes > most:
            return False, n_left, -1
        for m in range(pose_holes.shape[1]):
            if pose_holes[choice[k], m] >= 0:
                owner[pose_holes[choice[k], m]] = pin_net[k, m]
        for j in range(joins.shape[0]):
            if joins[j, 0] == k:
                rest[pin_net[k, joins[j, 1]]] -= 1
                made[n_made, 0] = pose_holes[choice[k], joins[j, 1]]
                made[n_made, 1] = pose_holes[choice[k], joins[j, 2]]
                n_made += 1
        jumpers, cuts = count_up(owner, strips, made, n_made, n_nets, rest, piece_of, lead, pieces)
        cost = jumpers * jumper_cost + cuts * cut_cost
        if jumpers < 0 or cost > level + 1e-9:
            continue
        if k + 1 < n_parts:
            k += 1
            choice[k] = start[k] - 1
            continue
        hidden = barred
        for q in range(n_parts):
            hidden |= covers[choice[q]]
        for h in range(n_holes):
            is_open[h] = owner[h] < 0 and (hidden >> h) & 1 == 0
        if plainly_wired(owner, is_open, strips, lead, pieces, n_nets):
            return True, n_left, nodes
        if cost + jumper_cost <= level + 1e-9:
            if n_left < left.shape[0]:
                left[n_left] = choice
            n_left += 1
            if n_left > left.shape[0]:
                return False, n_left, nodes
    return False, n_left, nodes
