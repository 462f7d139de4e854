"""Compiled: the exact search for places of a cluster's items that keep a claim.

Items are numbered as they come; the first is the one that the board is seen from, and each later one shares a group
with an earlier one where it can. Candidates are rows of one table of places; every pin's group leads from the places of
one item to those of the next, so that only what is near is ever looked at.
"""

from __future__ import annotations

import numpy as np

from placer.solve.compiled import compiled, raw
from placer.solve.layout import Ints
from placer.solve.together import SHAPE, Rows32, X, Y, lay_out, together
from placer.solve.touching import Bytes

FOUND, IMPOSSIBLE, CUT_SHORT, TOO_MANY = 1, 0, -1, -2
MOST_WORDS = 4_000_000  # of bits, for which candidates can stand together: 32 MB


@compiled
def _gather(
    t: int,
    rows_of: Ints,
    entry: Ints,
    entry_at: Ints,
    by: Ints,
    by_rows: Ints,
    on: Ints,
    n_pins: Ints,
    groups: Ints,
    longs: Ints,
    fixed: Ints,
    is_long: Ints,
    domain: Bytes,
    found: Rows32,
    at: int,
    most: int,
) -> int:
    """Write the candidates of item t to ``found`` from ``at`` on; their number, or -1 when there is no room left."""
    n_strips = domain.shape[1]
    count = 0
    strips = 1 if entry[t] < 0 else n_strips
    for s in range(strips):
        if entry[t] < 0:
            first, last = rows_of[t, 0], rows_of[t, 1]
        else:
            if domain[groups[t, entry[t]], s] == 0:
                continue
            first, last = by[entry_at[t] + s], by[entry_at[t] + s + 1]
        for q in range(first, last):
            r = q if entry[t] < 0 else by_rows[q]
            good = True
            for k in range(n_pins[t]):
                strip = on[r, k]
                g = groups[t, k]
                if (
                    (longs[t, k] and not is_long[strip])
                    or (fixed[t, k] >= 0 and fixed[t, k] != strip)
                    or (g >= 0 and domain[g, strip] == 0)
                ):
                    good = False
                    break
                for m in range(k):
                    if g >= 0 and groups[t, m] == g and on[r, m] != strip:
                        good = False
            if good:
                if at + count >= most:
                    return -1
                found[at + count] = r
                count += 1
    return count


@compiled
def _narrow(
    t: int, on: Ints, n_pins: Ints, groups: Ints, domain: Bytes, found: Rows32, at: int, count: int, seen: Bytes
) -> bool:
    """Keep in the domains of item t's groups only the strips that its candidates can take; True when one changed."""
    changed = False
    for k in range(n_pins[t]):
        g = groups[t, k]
        if g < 0:
            continue
        seen[:] = 0
        for q in range(at, at + count):
            seen[on[found[q], k]] = 1
        for s in range(seen.shape[0]):
            if domain[g, s] and seen[s] == 0:
                domain[g, s] = 0
                changed = True
    return changed


@compiled
def _agree(n: int, on: Ints, n_pins: Ints, groups: Ints, domain: Bytes, found: Rows32, start: Ints, count: Ints) -> int:
    """Drop candidates and strips until every group agrees; the item that is left without any, or -1."""
    seen = np.zeros(domain.shape[1], np.uint8)
    changed = True
    while changed:
        changed = False
        for t in range(n):
            kept = 0
            for q in range(start[t], start[t] + count[t]):
                r = found[q]
                good = True
                for k in range(n_pins[t]):
                    if groups[t, k] >= 0 and domain[groups[t, k], on[r, k]] == 0:
                        good = False
                if good:
                    found[start[t] + kept] = r
                    kept += 1
            if kept == 0:
                return t
            if kept < count[t]:
                count[t] = kept
                changed = True
            if _narrow(t, on, n_pins, groups, domain, found, start[t], count[t], seen):
                changed = True
    return -1


@compiled
def put(
    t: int,
    r: int,
    sign: int,
    rows: Ints,
    on: Ints,
    n_pins: Ints,
    wired: Ints,
    c_at: Ints,
    cover: Ints,
    grid: Ints,
    room: Ints,
    use: Ints,
    want: Ints,
) -> bool:
    """Put a place (``sign`` 1) or take it away (-1); True when the strips it bears on still have room.

    ``wired``: 1 of a pin whose strip is to have a free hole, or so much less than nought that it need not.
    """
    good = True
    for k in range(n_pins[t]):
        use[on[r, k]] += sign
        want[on[r, k]] += sign * wired[t, k]
    shape, x, y = rows[r, SHAPE], rows[r, X], rows[r, Y]
    for c in range(c_at[shape], c_at[shape + 1]):
        cx = x + cover[c, 0]
        cy = y + cover[c, 1]
        if 0 <= cy < grid.shape[0] and 0 <= cx < grid.shape[1] and grid[cy, cx] >= 0:
            use[grid[cy, cx]] += sign
    for k in range(n_pins[t]):
        s = on[r, k]
        good = good and use[s] + max(0, min(want[s], 1)) <= room[s]
    for c in range(c_at[shape], c_at[shape + 1]):
        cx = x + cover[c, 0]
        cy = y + cover[c, 1]
        if 0 <= cy < grid.shape[0] and 0 <= cx < grid.shape[1] and grid[cy, cx] >= 0:
            s = grid[cy, cx]
            good = good and use[s] + max(0, min(want[s], 1)) <= room[s]
    return good


@compiled
def enough(
    needy: Ints, needy_pins: Ints, slack: Ints, chosen: Ints, on: Ints, use: Ints, room: Ints, stamp: Ints
) -> bool:
    """True when nets may still have as many free holes on their strips, beyond two each, as they are said to.

    ``needy``: for each of these nets, after a first row, where its (item, pin) end in ``needy_pins``, and how many
    holes it must have to spare. ``slack``: how many a pin that is not placed yet can add at most, on a strip of its
    own. ``stamp``: to work in.
    """
    for j in range(1, needy.shape[0]):
        spare = -needy[j, 1]
        stamp[0] += 1
        for q in range(needy[j - 1, 0], needy[j, 0]):
            r = chosen[needy_pins[q, 0]]
            if r < 0:
                spare += slack[q]
                continue
            s = on[r, needy_pins[q, 1]]
            if stamp[1 + s] != stamp[0]:
                stamp[1 + s] = stamp[0]
                spare += room[s] - use[s] - 2
        if spare < 0:
            return False
    return True


@compiled
def _ones(bits: np.uint64) -> int:
    """How many bits are set."""
    v = bits - ((bits >> np.uint64(1)) & np.uint64(0x5555555555555555))
    v = (v & np.uint64(0x3333333333333333)) + ((v >> np.uint64(2)) & np.uint64(0x3333333333333333))
    v = (v + (v >> np.uint64(4))) & np.uint64(0x0F0F0F0F0F0F0F0F)
    return int((v * np.uint64(0x0101010101010101)) >> np.uint64(56))


@compiled
def walk(
    rows: Ints,
    on: Ints,
    rows_of: Ints,
    entry: Ints,
    entry_at: Ints,
    by: Ints,
    by_rows: Ints,
    n_pins: Ints,
    nets: Ints,
    groups: Ints,
    n_groups: int,
    wired: Ints,
    longs: Ints,
    fixed: Ints,
    is_long: Ints,
    needy: Ints,
    needy_pins: Ints,
    slack: Ints,
    at: Ints,
    bits: Bytes,
    c_at: Ints,
    cover: Ints,
    grid: Ints,
    room: Ints,
    most_places: int,
    most_steps: int,
    found: Rows32,
    start: Ints,
    count: Ints,
    chosen: Ints,
    report: Ints,
) -> int:
    """Look for one place an item. FOUND: rows in ``chosen``; IMPOSSIBLE; CUT_SHORT after about ``most_steps``.

    TOO_MANY beyond ``most_places``, and where more candidates are left than can be compared.

    ``found``, ``start`` and ``count`` keep each item's candidates; ``report``: comparisons made, and the items that a
    refutation rests on as bits (a hint: what the narrowing of candidates rests on is not followed).
    """
    n = n_pins.shape[0]
    n_strips = room.shape[0]
    domain = np.zeros((n_groups + 1, n_strips), np.uint8)
    for g in range(n_groups):
        for s in range(n_strips):
            domain[g, s] = 1 - is_long[s]
    seen = np.zeros(n_strips, np.uint8)
    report[0] = 0
    report[1] = -1
    total = int(np.int64(0))  # no literal, as below
    for t in range(n):
        start[t] = total
        count[t] = _gather(
            t,
            rows_of,
            entry,
            entry_at,
            by,
            by_rows,
            on,
            n_pins,
            groups,
            longs,
            fixed,
            is_long,
            domain,
            found,
            total,
            most_places,
        )
        if count[t] < 0:
            count[:] = 0
            return TOO_MANY
        if count[t] == 0:
            report[0] += total
            return IMPOSSIBLE
        total += count[t]
        _narrow(t, on, n_pins, groups, domain, found, start[t], count[t], seen)
    report[0] += 2 * total
    if _agree(n, on, n_pins, groups, domain, found, start, count) >= 0:
        return IMPOSSIBLE
    word = np.zeros(n + 1, np.int64)  # where each item's candidates begin among the words of bits
    for t in range(n):
        word[t + 1] = word[t] + (count[t] + 63) // 64
    words = word[n]
    if words * 64 * words > MOST_WORDS:
        return TOO_MANY
    fits = np.zeros(words * 64 * words, np.uint64)  # [candidate, bits of the others that can stand beside it]
    known = np.zeros((words * 64, n), np.uint8)
    n_forms = at.shape[0]
    shapes, xs, ys, first, strips, of_pins, forms, of_forms = lay_out(n, rows, on, n_pins, found, start, count, n_forms)
    bad = np.empty(first[n], np.int32)
    use = np.zeros(n_strips, np.int64)
    want = np.zeros(n_strips, np.int64)
    stamp = np.zeros(n_strips + 1, np.int64)
    alive = np.zeros((n + 1, words), np.uint64)
    left = np.zeros((n + 1, n), np.int64)
    why = np.zeros((n + 1, n), np.int64)  # bits: items that took candidates from this one
    fault = np.zeros(n + 1, np.int64)  # bits: items that a failure at this depth rests on
    parts = np.zeros(n + 1, np.int64)  # bits: items that the refutation below has looked at
    order = np.full(n + 1, -1, np.int64)
    cursor = np.zeros(n + 1, np.int64)
    for t in range(n):
        chosen[t] = -1
        left[0, t] = count[t]
        for q in range(count[t]):
            alive[0, word[t] + q // 64] |= np.uint64(1) << np.uint64(q % 64)
    there, gone = int(np.int64(1)), int(np.int64(-1))  # no literals: for each a function would be compiled once more
    depth = 0
    fresh = True
    while True:
        if fresh:
            if depth == n:
                return FOUND
            least = 1 << 40
            for t in range(n):
                if chosen[t] < 0 and left[depth, t] < least:
                    least = left[depth, t]
                    order[depth] = t
            cursor[depth] = 0
            fault[depth] = why[depth, order[depth]]
            parts[depth] = np.int64(1) << order[depth]
            fresh = False
        t = order[depth]
        if chosen[t] >= 0:
            put(t, chosen[t], gone, rows, on, n_pins, wired, c_at, cover, grid, room, use, want)
            chosen[t] = -1
        own = np.int64(1) << t
        advanced = False
        while cursor[depth] < count[t]:
            at_word = word[t] + cursor[depth] // 64
            rest = alive[depth, at_word] >> np.uint64(cursor[depth] % 64)
            if rest == 0:
                cursor[depth] += 64 - cursor[depth] % 64
                continue
            while rest & np.uint64(1) == 0:
                rest >>= np.uint64(1)
                cursor[depth] += 1
            q = cursor[depth]
            cursor[depth] += 1
            if report[0] > most_steps:
                return CUT_SHORT
            r = int(found[start[t] + q])
            me = 64 * word[t] + q
            roomy = put(t, r, there, rows, on, n_pins, wired, c_at, cover, grid, room, use, want)
            chosen[t] = r
            roomy = roomy and enough(needy, needy_pins, slack, chosen, on, use, room, stamp)
            reason = np.int64(0)
            if not roomy:
                for u in range(n):
                    if chosen[u] >= 0:
                        reason |= np.int64(1) << u
            good = roomy
            for u in range(n):
                if not good:
                    break
                if chosen[u] >= 0:
                    continue
                if not known[me, u]:
                    known[me, u] = 1
                    report[0] += count[u]
                    together(
                        t,
                        q,
                        u,
                        raw(shapes),
                        raw(xs),
                        raw(ys),
                        first,
                        raw(strips),
                        of_pins,
                        n_pins,
                        nets,
                        groups,
                        at,
                        bits,
                        forms,
                        of_forms,
                        raw(bad),
                        raw(fits),
                        me * words + word[u],
                    )
                kept = 0
                for v in range(word[u], word[u + 1]):
                    both = alive[depth, v] & fits[me * words + v]
                    alive[depth + 1, v] = both
                    kept += _ones(both)
                report[0] += word[u + 1] - word[u]
                left[depth + 1, u] = kept
                why[depth + 1, u] = why[depth, u]
                if kept < left[depth, u]:
                    why[depth + 1, u] |= own
                if kept == 0:
                    good = False
                    reason = why[depth + 1, u]
                    parts[depth] |= np.int64(1) << u
            if good:
                advanced = True
                break
            fault[depth] |= reason & ~own
            parts[depth] |= reason
            put(t, r, gone, rows, on, n_pins, wired, c_at, cover, grid, room, use, want)
            chosen[t] = -1
        if advanced:
            depth += 1
            fresh = True
            continue
        # Every place of this item fails: back to the last item that has to do with it.
        blame = fault[depth]
        below = parts[depth] | blame
        if depth == 0 or blame == 0:
            report[1] = below
            return IMPOSSIBLE
        while True:
            depth -= 1
            u = order[depth]
            if blame & (np.int64(1) << u):
                fault[depth] |= blame & ~(np.int64(1) << u)
                parts[depth] |= below
                break
            put(u, chosen[u], gone, rows, on, n_pins, wired, c_at, cover, grid, room, use, want)
            chosen[u] = -1
            if depth == 0:
                report[1] = below
                return IMPOSSIBLE
