"""Compiled: all items in columns, each as far to the left as those before it in the order let it."""

from __future__ import annotations

from placer.solve.compiled import inner
from placer.solve.layout import Ints
from placer.solve.linelayout import (
    C_FAR,
    C_HIGH,
    C_LOW,
    CLASS,
    CLASS_W,
    COLUMN,
    COVER,
    EXCESS,
    F_CLASS,
    F_COVER,
    F_COVERS,
    F_GROUP,
    F_GROUPS,
    FIRST,
    FORM,
    FORM_W,
    G_FIRST,
    G_FROM,
    G_INNER,
    G_LAST,
    G_LINE,
    G_NET,
    G_OWN,
    G_PINS,
    G_TO,
    GAP,
    GROUP,
    GROUP_FREE,
    GROUP_NET,
    GROUP_W,
    KEYS,
    LAST,
    LIES,
    LINE,
    N_CLASSES,
    N_HOLES,
    N_ITEMS,
    N_LINES,
    NEVER,
    NEW_KEY,
    ORDER,
    REACH,
    S_CLASS,
    S_COLUMN,
    S_FAR,
    S_HIGH,
    S_LINE,
    S_LOW,
    SEGMENTS,
    SKY_W,
    SKYLINE,
    STARVED,
    T_AFTER,
    T_FREE,
    T_NET,
    T_PIN,
    T_TAKEN,
    TRACK,
    TRACK_W,
    Steps,
)


@inner
def in_need(w: Ints, s: Ints, net: int, free: int) -> int:
    """1 where a segment of a net that needs wires has no free hole."""
    return 1 if free < 1 and s[w[SEGMENTS] + net] > 1 else 0


@inner
def beside(w: Ints, s: Ints, group: int, line: int, column: int) -> int:
    """The first column from this one on at which a group leaves the segment before it, and its own, what they need.

    Only what its line asks of it; that bodies do not meet is seen to elsewhere.
    """
    nets = w[GROUP_NET] + w[group + G_NET]
    first = w[nets]
    track = w[TRACK] + TRACK_W * line
    same = s[track + T_PIN] >= 0 and first == s[track + T_NET]
    # Its first segment ends within the group where that has pins of several nets: its hole must be before it.
    wanted = 0
    if w[group + G_INNER] > 0:
        wanted = in_need(w, s, first, w[group + G_OWN] + (s[track + T_FREE] if same else 0))
    apart = 0
    if s[track + T_PIN] >= 0 and not same:
        wanted += in_need(w, s, s[track + T_NET], s[track + T_FREE])
        apart = w[GAP] - 1
    if wanted + apart == 0:
        return column
    while True:
        free = s[track + T_AFTER] + max(0, column + w[group + G_FROM] - s[track + T_TAKEN] - 1)
        between = column + w[group + G_FIRST] - s[track + T_PIN] - 1
        # A cut may be under a body, a wire end may not.
        if between >= apart and free >= wanted + max(0, apart - between + free):
            return column
        column += 1


@inner
def follow(w: Ints, s: Ints, group: int, line: int, column: int) -> int:
    """Take a group into the account of its line; returns how many segments starve that end within it."""
    nets = w[GROUP_NET] + w[group + G_NET]
    track = w[TRACK] + TRACK_W * line
    free = s[track + T_AFTER] + max(0, column + w[group + G_FROM] - s[track + T_TAKEN] - 1)
    net = w[nets]
    if s[track + T_PIN] >= 0:
        if net == s[track + T_NET]:
            free += s[track + T_FREE]
        else:
            between = column + w[group + G_FIRST] - s[track + T_PIN] - 1
            free -= max(0, w[GAP] - 1 - between + free) + in_need(w, s, s[track + T_NET], s[track + T_FREE])
    starved = 0
    if w[group + G_INNER] > 0:
        for u in range(1, w[group + G_PINS]):
            more = w[w[GROUP_FREE] + w[group + G_NET] + u]
            if w[nets + u] == net:
                free += more
            else:
                wanted = in_need(w, s, net, free)
                starved += wanted if more == 0 else 0
                free = max(0, more - wanted)
                net = w[nets + u]
    s[track + T_TAKEN] = max(s[track + T_TAKEN], column + w[group + G_TO])
    s[track + T_PIN] = column + w[group + G_LAST]
    s[track + T_NET] = net
    s[track + T_FREE] = free
    s[track + T_AFTER] = 0
    return starved


@inner
def pack(w: Ints, far: Steps, s: Ints, most: float) -> bool:
    """Give each item its column, and a new key that tells the same order; ``EXCESS`` and ``STARVED`` of the whole.

    False, with nothing of use, once more than ``most`` columns too many are needed. ``far``: least columns from the
    leftmost pin of one class of shapes to that of another beyond it, for each distance of lines (from -``REACH`` on).
    """
    reach, classes = w[REACH], w[N_CLASSES]
    for line in range(w[N_LINES]):
        track = w[TRACK] + TRACK_W * line
        s[track + T_TAKEN], s[track + T_PIN], s[track + T_NET] = -1, -1, -1
        s[track + T_FREE], s[track + T_AFTER] = 0, 0
    excess = 0
    starved = 0
    furthest = 0
    for t in range(w[N_ITEMS]):
        i = s[w[ORDER] + t]
        line = s[w[LINE] + i]
        form = w[FORM] + FORM_W * s[w[LIES] + i]
        kind = w[form + F_CLASS]
        limits = s[w[LIES] + i] * w[N_LINES] + line
        column = w[w[FIRST] + limits]
        low, high = line + w[w[CLASS] + CLASS_W * kind + C_LOW], line + w[w[CLASS] + CLASS_W * kind + C_HIGH]
        after = -1
        u = w[SKYLINE] + SKY_W * (t - 1)
        while u >= w[SKYLINE] and s[u + S_FAR] > column:
            if s[u + S_LOW] <= high and s[u + S_HIGH] >= low:
                away = far[(s[u + S_CLASS] * classes + kind) * (2 * reach + 1) + line - s[u + S_LINE] + reach]
                if away > NEVER:
                    column = max(column, s[u + S_COLUMN] + away)
                    after = max(after, s[w[NEW_KEY] + s[w[ORDER] + (u - w[SKYLINE]) // SKY_W]])
            u -= SKY_W
        for q in range(w[form + F_GROUPS]):
            group = w[GROUP] + GROUP_W * (w[form + F_GROUP] + q)
            column = beside(w, s, group, line + w[group + G_LINE], column)
        over = column - w[w[LAST] + limits]
        if over > excess:
            excess = over
            if excess > most:
                return False
        s[w[COLUMN] + i] = column
        s[w[NEW_KEY] + i] = max(KEYS * column, after + 1)
        furthest = max(furthest, column + w[w[CLASS] + CLASS_W * kind + C_FAR], s[w[NEW_KEY] + i] // KEYS + 1)
        own = w[SKYLINE] + SKY_W * t
        s[own + S_LOW], s[own + S_HIGH], s[own + S_FAR] = low, high, furthest
        s[own + S_CLASS], s[own + S_COLUMN], s[own + S_LINE] = kind, column, line
        for q in range(w[form + F_GROUPS]):
            group = w[GROUP] + GROUP_W * (w[form + F_GROUP] + q)
            starved += follow(w, s, group, line + w[group + G_LINE], column)
        for q in range(w[form + F_COVERS]):
            cover = w[COVER] + 3 * (w[form + F_COVER] + q)
            if 0 <= line + w[cover] < w[N_LINES]:
                track = w[TRACK] + TRACK_W * (line + w[cover])
                s[track + T_AFTER] += max(0, column + w[cover + 1] - s[track + T_TAKEN] - 1)
                s[track + T_TAKEN] = max(s[track + T_TAKEN], column + w[cover + 2])
    for line in range(w[N_LINES]):
        track = w[TRACK] + TRACK_W * line
        if s[track + T_PIN] >= 0:
            beyond = max(0, w[N_HOLES] - 1 - s[track + T_TAKEN])
            free = s[track + T_FREE] + s[track + T_AFTER] + beyond
            starved += in_need(w, s, s[track + T_NET], free)
    s[EXCESS], s[STARVED] = excess, starved
    return True
