"""Where each table of the compiled search lies: indices into its three flat arrays.

``w`` is the world (never changes), ``s`` the state (whole numbers) and ``f`` the state's totals and each net's share
of them; passing many arrays from one compiled function to the next would cost more than the work itself. The first
entries of ``w`` say where each table starts: ``w[w[HX] + hole]`` is a hole's x, and ``s[w[OCC] + hole]`` tells what
stands in it. A move is written into ``s`` too: which items, where to; what was there before is kept beside it.
:mod:`placer.solve.arrays` lays the tables out.

Positions on the grid are numbered row by row (``AT`` of each hole), with room on all sides, so that a pin (``OFF``) or
a covered hole (``COV``) of a part is found by adding a number to its anchor's, without a look at the edges.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

# Totals: the first entries of ``f``, and of every list of weights.
# WISHES: steps off the binding ones; LIKED and RAISED: thousandths of weight, of cost, of others that are broken.
JUMPERS, CUTS, SHORTS, OVERLAPS, WIRELESS, DEFICIT, WISHES, LENGTH, LIKED, RAISED = range(10)
OLD_TOTALS = 10  # the same ten before the last move
# The first entries of ``s`` after the random numbers (:mod:`placer.solve.compiled`): a stamp that tells this move's
# marks from older ones, how many strips and nets it has touched, and how many items it moves.
STAMP, N_STRIPS_TOUCHED, N_NETS_TOUCHED, N_MOVED = range(1, 5)
MAX_MOVED = 24

# Header of ``w``: sizes and strides, how far moves go at most (steps), whether a lone hole between two nets may count
# for both, then the start of each table in ``w``, in ``s`` and in ``f``.
# fmt: off
(
    N_ITEMS, N_HOLES, N_MOVABLE, N_RIGID, CELL_W, CELL_H, X0, Y0, NET_W, SEG_W, SCRATCH_W, JUNCTION,
    SHIFT, GROUP_SHIFT, NEAR, LENIENT, BANDS_X, BANDS_Y, BAND_W,
) = range(19)
(
    HX, HY, HSTRIP, SSTART, SLEN, CUT_AT, CUT_BETWEEN, ITEM_PINS, SHAPE_PIN, OFF_X, OFF_Y, COV_X, COV_Y, WAY,
    PIN_ITEM, PIN_K, WISH_KIND, WISH_ITEM, WISH_K, WISH_MASK, WISH_LIMIT, WISH_FORCE, WISH_TERM, WISH_OF,
    MOVABLE, RIGID, CELL, ITEM_SHAPE, ITEM_NET, SHAPE_BOX, SHAPE_SLANT, SLANT, BOX, SHAPE_COVER, SHAPE_WAY,
    VALID, NET_PIN, NET_JOIN, JOIN, WISH_A, WISH_B, ITEM_WISH, MASK, AT, OFF, COV,
) = range(19, 65)
(
    SHAPE, ANCHOR, PLACED, OCC, COVER, SEG_N, STRIP_CUTS, STRIP_SHORTS, NET_SEG, NET_DRY, NET_FREE,
    WISH_COST, MARK_STRIP, MARK_NET, LIST_STRIP, LIST_NET, SAVE_N, BOUND, SEG_NET, SEG_FREE, SEG_LO,
    SEG_HI, NET_XY, SAVE_CS, SCRATCH, SAVE_SEG, MOVED, NEW_SHAPE, NEW_ANCHOR, OLD_SHAPE, OLD_ANCHOR, BAND_X, BAND_Y,
) = range(65, 98)
(
    NET_COST, SAVE_NET,
) = range(98, 100)
HEADER = 100
# fmt: on
# For each band of the board, in x (from X0) and in y, the items whose bodies reach into it, a bit for each.
BAND_SHIFT = 13  # a band is so many bits of um wide, some three steps
ITEM_SHIFT = 5  # and a number has the bits of 32 items
