"""The whole problem as clauses, places and bodies included, on boards that are not cut: the last way to a proof.

The other clauses know strips alone, and what stands where is looked at cluster by cluster. That leaves open whether the
clusters fit side by side, and for few parts this is soon told: each item has a literal for each place. Bodies are kept
apart at the points of a half-step lattice. What slips through is stated when it is proposed: bodies that meet between
the points, wishes about several parts, places that the board does not have where the anchor stands, and nets that lack
holes for wire ends.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator

import networkx as nx
import numpy as np

from placer.solve.aims import Wish, missed
from placer.solve.arrays import Places
from placer.solve.claims import Pin
from placer.solve.clustermodel import points_of
from placer.solve.cores import Verdict
from placer.solve.distances import KINDS, Cell, Distances
from placer.solve.frame import Frame
from placer.solve.near import holes_of_pins
from placer.solve.pool import Pool
from placer.solve.prices import Prices
from placer.solve.proposal import Proposal
from placer.solve.strips import Bools, StripModel
from placer.solve.touching import touches
from placer.solve.wiring import wire

MOST_PLACES = 120_000  # of all parts together; with more the clauses are too many to be of use
PORTION = 500  # points of the lattice that are stated at a time

Place = tuple[tuple[int, int, int], int]
"""Shape, x and y in the frame, and the literal of it."""


class PlaceModel(StripModel):
    """The clauses, as :class:`placer.solve.strips.StripModel` has them, and places.

    ``placed``: where the last answer puts the parts on the board; None where it cannot be wired, and it is not known
    why.
    """

    def __init__(self, frame: Frame, prices: Prices, shares: Bools, *, half: bool = False) -> None:
        super().__init__(frame, prices, shares, half=half)
        self.placed: Places | None = None
        self.lits: list[dict[tuple[int, int, int], int]] = []  # of each item: (shape, x, y) -> literal
        self._at: dict[Cell, dict[int, int]] = {}  # point of the lattice -> item -> literal
        self._takes: dict[tuple[int, int], list[tuple[int, int]]] = {}  # item and shape -> points, from the first pin
        self._taken: dict[Cell, int] = {}
        self._cells: dict[int, list[Cell]] = {}
        self._distances = Distances(self.p, self.sat, self.lits)
        grid = frame.strip_at if frame.axis else frame.strip_at.T
        for y, x in np.argwhere(grid >= 0).tolist():
            self._cells.setdefault(int(grid[y, x]), []).append((x, y))

    # What is stated at once.

    def _place(self, i: int) -> bool:
        if not super()._place(i):
            return False
        sat, item, frame = self.sat, self.p.items[i], self.frame
        good = set(self._keys(i))
        own: dict[tuple[int, int, int], int] = {}
        points: dict[Cell, int] = {}
        for no, shape in enumerate(item.shapes):
            if self._half and i == frame.anchor and len(item.pins) > 2 and shape.rotation >= 180:
                continue
            takes = self._takes[i, no] = points_of(shape)
            lines, across = (v.tolist() for v in frame.spots(i)[no])
            stated: list[list[int]] = []
            for line, beside, strips in zip(lines, across, frame.strips_of(i, no).tolist(), strict=True):
                if tuple(strips) not in good:
                    continue
                x, y = (beside, line) if frame.axis else (line, beside)
                lit = own[no, x, y] = sat.new()
                stated += [[-lit, self.pin_at[i, k][s]] for k, s in enumerate(strips)]
                for px, py in takes:
                    at = (px + 2 * x, py + 2 * y)
                    if at not in points:
                        points[at] = sat.new()
                    stated.append([-lit, points[at]])
            sat.add_all(stated)
        sat.add(list(own.values()))
        self.lits.append(own)
        for at, lit in points.items():
            self._at.setdefault(at, {})[i] = lit
        return True

    def _rest(self) -> Iterator[None]:
        """No point is taken twice; a strip of a net in several pieces has a hole that is free."""
        for number, by_item in enumerate(self._at.values()):
            self.sat.add_all([[-a, -b] for a, b in itertools.combinations(by_item.values(), 2)])
            if number % PORTION == 0:
                yield
        for (n, s), owned in self._own.items():
            if n in self.several and len(self._cells[s]) <= self.frame.room[s]:
                taken = [self._is_taken(cell) for cell in self._cells[s]]
                if None not in taken:
                    self.sat.add([-owned, -self.several[n], *(-lit for lit in taken if lit is not None)])
        # What an empty strip costs must be known from the start; a plan that needs none is better, for it can be wired.
        named = [n for n in range(self.p.n_named) if n in self._pins]
        self.shy += [lit for n in named for lit in self.helpers.state(n, len(self._pins[n]))]
        yield

    def _is_taken(self, cell: Cell) -> int | None:
        """A literal that holds at least where a lead or a body takes a hole; None where none ever does."""
        x, y = cell
        if (by_item := self._at.get((2 * x, 2 * y))) is None:
            return None
        if cell not in self._taken:
            self._taken[cell] = self.sat.any_of((lit,) for lit in by_item.values())
        return self._taken[cell]

    # What is stated when it is proposed.

    def mend(self) -> bool:
        """State what is wrong with the last answer."""
        holds = self.sat.holds
        chosen = [next((place, lit) for place, lit in own.items() if holds(lit)) for own in self.lits]
        clauses = list(self._meeting(chosen))
        move = next((t for t, lit in enumerate(self._windows) if holds(lit)), 0)
        places, absent = self._on_board(chosen, move)
        clauses += absent
        unkept: list[bool] = []
        if not absent:
            broken = [wish for wish in self.p.wishes if missed(self.p, wish, places, ())]
            unkept = [self._against(wish, chosen, places, move) for wish in broken]
        strip = self._strips()
        clauses += [clause for n in self._saves for clause in self._in_a_ring(n, strip)]
        if not clauses and not any(unkept):
            clauses = self._unwired(chosen, places, strip, move)
        for clause in clauses:
            self.sat.add(clause)
        return bool(clauses) or any(unkept)

    def _meeting(self, chosen: list[Place]) -> Iterator[list[int]]:
        shape = [self.p.items[i].shapes[no] for i, ((no, _, _), _) in enumerate(chosen)]
        for (i, ((_, x, y), a)), (j, ((_, u, v), b)) in itertools.combinations(enumerate(chosen), 2):
            if touches(shape[i], shape[j], u - x, v - y):
                yield [-a, -b]

    def _on_board(self, chosen: list[Place], move: int) -> tuple[Places, list[list[int]]]:
        """Places on the board, and clauses against those that it does not have with the anchor where it is."""
        p = self.p
        places, clauses = [], []
        for i, ((no, x, y), lit) in enumerate(chosen):
            hole = self._hole(x, y, move)
            way = p.items[i].ways[no]
            if hole not in way:
                allowed = [t for t in range(len(self.frame.moves)) if self._hole(x, y, t) in way]
                clauses.append([-lit, *(self._windows[t] for t in allowed)])
            places.append((no, hole))
        return tuple(places), clauses

    def _hole(self, x: int, y: int, move: int) -> int:
        """The hole of the board that one of the frame is, -1 where there is none."""
        frame = self.frame
        line, beside = frame.origin[0] + frame.moves[move], frame.origin[1]
        return self.p.hole(x + beside, y + line) if frame.axis else self.p.hole(x + line, y + beside)

    def _against(self, wish: Wish, chosen: list[Place], places: Places, move: int) -> bool:
        """State what keeps a wish that is broken; False where the judge may measure otherwise."""
        pins = (*wish.a, *wish.b)
        holes = holes_of_pins(self.p, places)
        if wish.kind in KINDS:
            if any(self.p.addresses[holes[pin]] not in self.p.board.holes for pin in pins):
                return False  # the pad of a port stands off the grid
            if self._distances.state(wish, {pin: self._distances.pin_at(chosen[pin[0]][0], pin) for pin in pins}):
                return True
        # What names holes of the board is broken with the anchor where it is, not wherever it stands.
        here = self._windows[move : move + 1] if wish.holes else []
        self.sat.add([-lit for lit in (*(chosen[i][1] for i in wish.items), *here)])
        return True

    def _unwired(self, chosen: list[Place], places: Places, strip: dict[Pin, int], move: int) -> list[list[int]]:
        """Clauses against nets that have too few holes for their wire ends; ``placed`` where nothing is wrong."""
        wiring = wire(self.p, places)
        pieces = sum(len(self._pieces(n, strip)) - 1 for n in self._pins)
        helped = sum(self.helpers.held().values())
        self.placed = places if wiring is not None and len(wiring.wires) <= pieces + helped else None
        if self.placed is not None:
            return []
        used = set()
        for i, ((no, x, y), _) in enumerate(chosen):
            used |= {(px // 2 + x, py // 2 + y) for px, py in self._takes[i, no] if px % 2 == py % 2 == 0}
        named = [n for n in self._pins if n < self.p.n_named]
        return [clause for n in named if (clause := self._lacking(n, strip, move, used))]

    def _pieces(self, n: int, strip: dict[Pin, int]) -> list[set[int]]:
        """The strips of a net, those that parts join inside together."""
        p = self.p
        joined = nx.Graph()
        joined.add_nodes_from(strip[q] for q in self._pins[n])
        joined.add_edges_from((strip[i, k], strip[j, m]) for i, k, j, m in p.joins if p.items[i].nets[k] == n)
        return list(nx.connected_components(joined))

    def _lacking(self, n: int, strip: dict[Pin, int], move: int, used: set[Cell]) -> list[int]:
        """A clause against strips of a net that have too few holes for wire ends, or nothing.

        k pieces, where strips that a part joins inside are one, need a hole each and 2 (k - 1) in all.
        """
        p, pins, pieces = self.p, self._pins[n], self._pieces(n, strip)
        on = sorted(s for piece in pieces for s in piece)
        here = {s: [c for c in self._cells[s] if (h := self._hole(*c, move)) >= 0 and not p.barred[h]] for s in on}
        free = [sum(cell not in used for s in piece for cell in here[s]) for piece in pieces]
        bare = min(free) == 0  # which no empty strip helps
        lacking = 2 * (len(pieces) - 1) - sum(free)
        helpers = self.helpers.of[n]
        needed = helpers[min(len(helpers), max(1, -(-lacking // max(1, self.helpers.given)))) - 1]
        enough = lacking <= 0 or self.sat.holds(needed)
        if len(pieces) < 2 or (enough and not bare):
            return []
        taken = [lit for s in on for c in here[s] if c in used and (lit := self._is_taken(c)) is not None]
        clause = [
            *(-self.pin_at[q][strip[q]] for q in pins),
            *(-lit for lit in taken),
            *([] if bare else [needed]),
        ]
        if any(len(here[s]) < len(self._cells[s]) for s in on):  # not so wherever the anchor stands
            clause += [-lit for lit in self._windows[move : move + 1]]
        return clause

    def _in_a_ring(self, n: int, strip: dict[Pin, int]) -> Iterator[list[int]]:
        """Clauses against joins inside parts that lead round in a ring: one of them saves nothing."""
        tree = nx.Graph()
        for save, a, b in self._saves[n]:
            here, there = strip[a], strip[b]
            if here == there or not self.sat.holds(save):
                continue
            tree.add_nodes_from((here, there))
            if not nx.has_path(tree, here, there):
                tree.add_edge(here, there, join=(save, a, b))
                continue
            way = itertools.pairwise(nx.shortest_path(tree, here, there))
            ring = [(save, a, b), *(tree.edges[edge]["join"] for edge in way)]
            yield [lit for used, *pins in ring for lit in (-used, *(-self.pin_at[q][strip[q]] for q in pins))]


def places_in(frame: Frame) -> int:
    """How many places all parts have together."""
    return sum(len(lines) for i in range(len(frame.p.items)) for lines, _ in frame.spots(i))


class Stand:
    """Says of what :class:`PlaceModel` proposes that it is built; ``conflicts``: known from elsewhere."""

    level, work = 0, 0.0

    def __init__(self, model: PlaceModel, conflicts: Pool) -> None:
        self.model, self.conflicts = model, conflicts

    def look(self, _: Proposal) -> Iterator[Verdict | None]:
        """Nothing is left to look at."""
        yield Verdict(places=self.model.placed)
