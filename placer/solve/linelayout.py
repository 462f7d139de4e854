"""Where each table of the search by order lies: indices into its flat arrays, as in :mod:`placer.solve.layout`.

``w`` is the world and ``s`` the state; the first entries of ``w`` say where each table starts in the one or the other.
A *form* is a way for one item to lie; a *group* are its pins on one line. Forms with the same nets in the same order on
the same lines are of one *kin*: they cost the same, however long they are. A *key* says where in the order of all items
an item is: of two that meet, the one with the smaller key stands before the other.
:mod:`placer.solve.lineup` lays the tables out.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Steps = npt.NDArray[np.int16]

KEYS = 4096  # to a column
NEVER = -99  # a distance: the two do not meet

# Header of ``w``: sizes and strides, then the start of each table in ``w`` and in ``s``.
# fmt: off
(
    N_ITEMS, N_LINES, N_HOLES, GAP, N_NETS, NET_W, REACH, N_CLASSES, ROW_W,
) = range(9)
(
    ITEM_FORM, ITEM_PINS, ITEM_NET, NET_PIN, PIN_ITEM, PIN_K, FORM, PIN_LINE, GROUP, GROUP_NET, GROUP_FREE, COVER,
    JOINED, SHUT, FIRST, LAST, CLASS, ITEM_KIN, KIN, KIN_FORM, KIN_LINE, KIN_GROUP,
) = range(9, 31)
(
    ORDER, LIES, LINE, KEY, COLUMN, NEW_KEY, COUNT, ROW_ITEM, ROW_KEY, ROW_FIRST, ROW_LAST, SEGMENTS, TRACK, SKYLINE,
    MOVED, OLD_LIES, OLD_LINE, OLD_KEY, AWAY, TURN,
) = range(31, 51)
HEADER = 51
# fmt: on
# Of a form: its class of shapes, and how many and where in their table: its groups, the lines that only its body
# covers, and nets that it joins from line to line; last its kin.
FORM_W = 8
F_CLASS, F_GROUPS, F_GROUP, F_COVERS, F_COVER, F_JOINED, F_JOINS, F_KIN = range(FORM_W)
# Of forms of an item that are of one kin, where they are and how many; how many groups and where; how many nets they
# join from line to line; how many nets have a segment within that no wire can reach, and where; their first and last
# line. Of each of the groups its line, the nets of its first and its last pin, and changes of net within.
KIN_W = 9
K_FORM, K_FORMS, K_GROUPS, K_GROUP, K_JOINED, K_SHUT, K_SHUTS, K_LOW, K_HIGH = range(KIN_W)
KIN_GROUP_W = 4
KG_LINE, KG_FIRST, KG_LAST, KG_INNER = range(KIN_GROUP_W)
# Keys of a line are compared so many at a time, which is one step where the compiler has instructions for it; beyond
# the last one there are keys larger than any.
BLOCK = 8
NO_KEY = 2**62
# Of a group: its line (from that of the first pin), how many pins; columns from the leftmost pin of the form: the first
# and the last that it takes with pins or body, the first and the last pin; changes of net within; free holes from its
# first pin to the first of another net; where its nets are, and the free holes before each pin, one for a cut left out.
GROUP_W = 9
G_LINE, G_PINS, G_FROM, G_TO, G_FIRST, G_LAST, G_INNER, G_OWN, G_NET = range(GROUP_W)
# Of a class of shapes: lines from that of the first pin, and how far what comes after must keep off at most.
CLASS_W = 3
C_LOW, C_HIGH, C_FAR = range(CLASS_W)
# Of a line while all are put in columns: the last column taken, the last pin's and its net, free holes of the segment
# so far, and those after it that are nobody's yet.
TRACK_W = 5
T_TAKEN, T_PIN, T_NET, T_FREE, T_AFTER = range(TRACK_W)
# Of an item in the order, while all are put in columns: its lines, how far all up to it reach, class, column, line.
SKY_W = 6
S_LOW, S_HIGH, S_FAR, S_CLASS, S_COLUMN, S_LINE = range(SKY_W)
# The first entries of ``s`` after the random numbers (:mod:`placer.solve.compiled`): segments in all, lines in use,
# segments joined inside items, columns that the order is too long, and segments without a hole for the wire that they
# need.
TOTAL, USED, INSIDE, EXCESS, STARVED = range(1, 6)
STATE_HEADER = 6
# Weights: of a jumper, a cut, a column too many and a segment that starves.
W_JUMPER, W_CUT, W_EXCESS, W_STARVED = range(4)
