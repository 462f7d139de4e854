"""The least cost of a circuit on a board by trying everything: the truth that tests hold the engine against.

Every pose of every part is tried by plain backtracking, cost level by cost level. A branch is given up only for what no
further part can mend: two leads in a hole, bodies in each other's way, two nets on copper that cannot be severed there,
or a count of jumpers and cuts already above the level. Written apart from the search: it shares no code with it.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from placer.boards.model import Board
from placer.circuit.model import Apart, Circuit, Owned, Part, PinRef, Region, Short, Together
from placer.plan.model import Cut, Jumper, Options, Placement, Plan, Proof, Score, SolveInfo
from tests.solve.backtrack import explore
from tests.solve.poses import Ground, Pose, overlaps, pack, poses
from tests.solve.wires import Meter, Network, Standing, TooLargeError, cheapest, severable

Ints = npt.NDArray[np.int64]
MOST_WAYS = 8_000  # ways to sever strips that one case may try
MOST_LEFT = 600  # placements without plain wiring that one level may leave for a closer look


@dataclass(frozen=True)
class Answer:
    """The least cost of any legal plan and a plan that has it; both None when no legal plan exists.

    ``junctions``: no plan has this cost unless wires meet on empty copper.
    """

    cost: float | None
    plan: Plan | None
    nodes: int
    junctions: bool = False


def optimum(circuit: Circuit, board: Board, options: Options, *, most_nodes: int = 3_000_000) -> Answer:
    """Try everything. Raises TooLargeError when that takes more than ``most_nodes`` partial placements.

    Wishes that need not be kept are not looked at. Of nets that should be apart only the leads are: no plan is cheaper
    than the answer, but the wires of its own plan may come too near.
    """
    owned = [wish for wish in circuit.wishes.shared if isinstance(wish, Owned) and wish.force.binding]
    able = [sorted({pin.part for net in circuit.nets if net.name == wish.net for pin in net.pins}) for wish in owned]
    best = Answer(None, None, 0)
    # One part after the other is the one that stands on the strip that its net owns.
    for refs in itertools.product(*able):
        given = tuple((wish, ref) for wish, ref in zip(owned, refs, strict=True))
        found = _Search(circuit, board, options, most_nodes - best.nodes, given).answer()
        better = found.cost is not None and (best.cost is None or found.cost < best.cost)
        best = replace(found if better else best, nodes=best.nodes + found.nodes)
    return best


class _Search:
    def __init__(
        self,
        circuit: Circuit,
        board: Board,
        options: Options,
        most_nodes: int,
        given: tuple[tuple[Owned, str], ...],
    ) -> None:
        self.given = given  # which part has a lead on a strip that its net owns
        self.circuit, self.board, self.options = circuit, board, options
        self.ground = Ground(board)
        self.shared = [wish for wish in circuit.wishes.shared if isinstance(wish, Region) or wish.force.binding]
        for wish in self.shared:
            if isinstance(wish, Region):
                self.ground.keep_out(wish.start, wish.end)
        if len(self.ground.holes) > 62:
            raise TooLargeError
        self.parts = sorted(circuit.parts, key=lambda part: -len(circuit.packages[part.package].pins))
        self.poses = [poses(self.ground, circuit, part, options) for part in self.parts]
        self.nodes, self.most_nodes, self.meter = 0, most_nodes, Meter(MOST_WAYS)
        self.net_of, self.n_nets = _nets(circuit)
        if self.shared:
            self.poses = [
                [p for p in own if self._keeps_strips(part, p) and self._keeps_shared(part, [p], part, [p]).all()]
                for part, own in zip(self.parts, self.poses, strict=True)
            ]

    def _nets_of(self, part: Part) -> list[str]:
        """The name of the net at each pin, "" for none."""
        names = [net.name for net in self.circuit.nets]
        numbers = [self.net_of[PinRef(part.ref, pin)] for pin in self.circuit.packages[part.package].pins]
        return [names[n] if n < len(names) else "" for n in numbers]

    def _keeps_strips(self, part: Part, pose: Pose) -> bool:
        """No lead on a strip that is another net's own, and one on each strip that this part is to stand on."""
        own = {wish.strip: wish.net for wish in self.shared if isinstance(wish, Owned)}
        on = {hole: strip.name for strip in self.board.strips for hole in strip.holes}
        nets = self._nets_of(part)
        stands = {(on[self.ground.holes[h].address], net) for h, net in zip(pose.holes, nets, strict=True)}
        owed = {(wish.strip, wish.net) for wish, ref in self.given if ref == part.ref}
        return owed <= stands and all(own.get(strip, net) == net for strip, net in stands)

    def _keeps_shared(self, part: Part, mine: list[Pose], other: Part, theirs: list[Pose]) -> npt.NDArray[np.bool_]:
        """[pose of part, pose of other]: squares and distances that are wished for, as far as these two can tell."""
        fine = np.ones((len(mine), len(theirs)), dtype=bool)
        x, y = (np.array([getattr(hole, axis) for hole in self.ground.holes]) for axis in ("x", "y"))
        for m, net in enumerate(self._nets_of(part)):
            for k, far in enumerate(self._nets_of(other)):
                a, b = np.array([p.holes[m] for p in mine], int), np.array([q.holes[k] for q in theirs], int)
                dx, dy = np.abs(x[a][:, None] - x[b][None, :]), np.abs(y[a][:, None] - y[b][None, :])
                for wish in self.shared:
                    if isinstance(wish, Together) and {part.ref, other.ref} <= set(wish.parts):
                        fine &= np.maximum(dx, dy) <= wish.steps
                    elif isinstance(wish, Short) and net == far == wish.net:
                        fine &= 2.54 * np.maximum(dx, dy) <= wish.mm + 1e-9
                    elif isinstance(wish, Apart) and {net, far} == set(wish.nets):
                        fine &= 2.54 * np.hypot(dx, dy) >= wish.mm - 1e-9
        return fine

    def answer(self) -> Answer:
        """The least cost, with a plan."""
        if not all(self.poses):
            return Answer(None, None, 0)
        if sum(map(len, self.poses)) > 3000:
            raise TooLargeError
        self._tables()
        found, left = self._explore(math.inf)
        if found is None:
            best = self._closer(left, math.inf)
            if best is None:
                return Answer(None, None, self.nodes)
            return self._answer(*best)
        network = self._network(found, math.inf)
        assert network is not None, "a placement that has wiring has a network"
        best = found, network
        for level in self._levels(network.cost):
            found, left = self._explore(level)
            if found is not None:
                network = self._network(found, level)
                assert network is not None, "a placement that has wiring has a network"
                best = (found, network)
                break
            closer = self._closer(left, level)
            if closer is not None:
                best = closer
                break
        return self._answer(*best)

    def _answer(self, choice: tuple[int, ...], network: Network) -> Answer:
        return Answer(round(network.cost, 6), self._plan(choice, network), self.nodes, any(network.junctions.values()))

    def _levels(self, ceiling: float) -> list[float]:
        """Every sum of jumpers and cuts below ``ceiling``, rising."""
        j, c = self.options.jumper_cost, self.options.cut_cost
        most_j, most_c = int(ceiling / j + 1), int(ceiling / c + 1)
        sums = {round(a * j + b * c, 9) for a in range(most_j + 1) for b in range(most_c + 1)}
        return sorted(s for s in sums if s < ceiling - 1e-9)

    # --- tables for the compiled backtracking ------------------------------------------------------------------------

    def _tables(self) -> None:
        ground, flat = self.ground, [p for some in self.poses for p in some]
        self.flat = flat
        self.start = np.cumsum([0, *map(len, self.poses)]).astype(np.int64)
        most = max(len(p.holes) for p in flat)
        self.pose_holes = np.full((len(flat), most), -1, np.int64)
        self.covers = np.zeros(len(flat), np.int64)
        for i, p in enumerate(flat):
            self.pose_holes[i, : len(p.holes)] = p.holes
            self.covers[i] = sum(1 << h for h in p.covers)
        self.pin_net = np.full((len(self.parts), most), -1, np.int64)
        joins = []
        for k, part in enumerate(self.parts):
            package = self.circuit.packages[part.package]
            for m, pin in enumerate(package.pins):
                self.pin_net[k, m] = self.net_of[PinRef(part.ref, pin)]
            for group in package.joined:
                joins += [(k, package.pins.index(a), package.pins.index(b)) for a, b in itertools.pairwise(group)]
        self.joins = np.array(joins, np.int64).reshape(-1, 3)
        self.strips = np.array(
            [(len(s.holes), *severable(s, allow_cuts=self.options.allow_cuts)) for s in self.board.strips], np.int64
        )
        self.agree = self._agreement()
        self.barred = sum(1 << h for h in ground.barred)

    def _agreement(self) -> npt.NDArray[np.bool_]:
        """[pose, pose]: can both stand on the board at once (poses of different parts)?"""
        total = len(self.flat)
        agree = np.zeros((total, total), dtype=bool)
        pins = np.zeros(total, np.int64)
        for i, p in enumerate(self.flat):
            pins[i] = sum(1 << h for h in p.holes)
        for a, b in itertools.combinations(range(len(self.parts)), 2):
            rows, cols = slice(self.start[a], self.start[a + 1]), slice(self.start[b], self.start[b + 1])
            fine = ~overlaps(pack([p.bodies for p in self.poses[a]]), pack([p.bodies for p in self.poses[b]]))
            fine &= (pins[rows, None] & (pins[cols] | self.covers[cols])[None, :]) == 0
            fine &= (self.covers[rows, None] & pins[None, cols]) == 0
            fine &= self._wishes(a, b) & self._wishes(b, a).T
            if self.shared:
                fine &= self._keeps_shared(self.parts[a], self.poses[a], self.parts[b], self.poses[b])
            agree[rows, cols] = fine
            agree[cols, rows] = fine.T
        return agree

    def _wishes(self, a: int, b: int) -> npt.NDArray[np.bool_]:
        """[pose of a, pose of b]: are the wishes of part a about part b kept?"""
        part, other = self.parts[a], self.parts[b]
        fine = np.ones((len(self.poses[a]), len(self.poses[b])), dtype=bool)
        near = [
            (self.circuit.packages[other.package].pins.index(w.pin.pin), w.steps)
            for w in part.place.near
            if w.pin.part == other.ref
        ]
        away = [w.mm for w in part.place.away if w.ref == other.ref]
        if not near and not away:
            return fine
        xy = [(h.x, h.y) for h in self.ground.holes]
        for i, p in enumerate(self.poses[a]):
            for j, q in enumerate(self.poses[b]):
                mine, theirs = [xy[h] for h in p.holes], [xy[h] for h in q.holes]
                fine[i, j] = all(
                    min(math.dist(m, theirs[k]) for m in mine) <= steps + 1e-9 for k, steps in near
                ) and all(2.54 * min(math.dist(m, t) for m in mine for t in theirs) >= mm - 1e-9 for mm in away)
        return fine

    # --- the search --------------------------------------------------------------------------------------------------

    def _explore(self, level: float) -> tuple[tuple[int, ...] | None, list[tuple[int, ...]]]:
        """A placement whose plain wiring costs no more than ``level``, or those that need a closer look."""
        choice = np.full(len(self.parts), -1, np.int64)
        left = np.zeros((MOST_LEFT, len(self.parts)), np.int64)
        found, n_left, nodes = explore(
            min(level, 1e9),
            self.options.jumper_cost,
            self.options.cut_cost,
            self.start,
            self.pose_holes,
            self.covers,
            self.barred,
            self.pin_net,
            self.joins,
            self.strips,
            self.agree,
            self.n_nets,
            self.most_nodes - self.nodes,
            choice,
            left,
        )
        self.nodes += nodes
        if nodes < 0 or n_left > MOST_LEFT:
            raise TooLargeError
        return (tuple(choice.tolist()) if found else None), [tuple(row) for row in left[:n_left].tolist()]

    def _closer(self, left: list[tuple[int, ...]], level: float) -> tuple[tuple[int, ...], Network] | None:
        """The cheapest network of placements that have no plain wiring, if it costs no more than ``level``."""
        best: tuple[tuple[int, ...], Network] | None = None
        for choice in left:
            network = self._network(choice, level)
            if network is not None and (best is None or network.cost < best[1].cost):
                best = choice, network
                level = network.cost - 1e-6
        return best

    def _network(self, choice: tuple[int, ...], budget: float) -> Network | None:
        holes = len(self.ground.holes)
        owner, under = [-1] * holes, set(self.ground.barred)
        for k, number in enumerate(choice):
            pose: Pose = self.flat[number]
            under |= pose.covers
            for m, h in enumerate(pose.holes):
                owner[h] = int(self.pin_net[k, m])
        joins = tuple((self.flat[choice[k]].holes[a], self.flat[choice[k]].holes[b]) for k, a, b in self.joins.tolist())
        standing = Standing(tuple(owner), tuple(owner[h] < 0 and h not in under for h in range(holes)), joins)
        return cheapest(
            self.ground,
            standing,
            budget,
            self.meter,
            jumper_cost=self.options.jumper_cost,
            cut_cost=self.options.cut_cost,
            allow_cuts=self.options.allow_cuts,
        )

    def _plan(self, choice: tuple[int, ...], network: Network) -> Plan:
        address, names = self.ground.addresses, [net.name for net in self.circuit.nets]
        placements = {}
        for part, number in zip(self.parts, choice, strict=True):
            pose = self.flat[number]
            pins = self.circuit.packages[part.package].pins
            at = {pin: address[h] for pin, h in zip(pins, pose.holes, strict=True)}
            placements[part.ref] = Placement(part.ref, part.package, pose.mount, at)
        cuts = [Cut(at=address[h]) for s in network.severings for h in s.drilled]
        cuts += [Cut(between=(address[h], address[h + 1])) for s in network.severings for h in s.knifed]
        wires = []
        for net, a, b in network.wires():
            one, two = self.ground.holes[a], self.ground.holes[b]
            length = math.hypot(one.x_mm - two.x_mm, one.y_mm - two.y_mm)
            wires.append(Jumper(names[net], one.address, two.address, length))
        cost = network.cost
        return Plan(
            self.circuit,
            self.board,
            placements,
            tuple(cuts),
            tuple(wires),
            Score(len(wires), len(cuts), sum(w.length_mm for w in wires), cost),
            Proof("optimal", cost, 0.0),
            SolveInfo(0.0, 0, 1),
            self.options,
        )


def standing_of(ground: Ground, plan: Plan) -> Standing:
    """How the parts of a plan stand, whoever placed them. Raises ValueError when the plan's geometry is not legal."""
    circuit = plan.circuit
    net_of, _ = _nets(circuit)
    owner, under = [-1] * len(ground.holes), set(ground.barred)
    joins = []
    for part in circuit.parts:
        package, stood = circuit.packages[part.package], plan.placements[part.ref]
        holes = tuple(ground.number[stood.pins[pin]] for pin in package.pins)
        pose = next(
            (p for p in poses(ground, circuit, part, plan.options) if p.holes == holes and p.mount == stood.mount), None
        )
        if pose is None:
            raise ValueError(f"{part.ref} cannot stand like this")
        under |= pose.covers
        for pin, hole in zip(package.pins, holes, strict=True):
            owner[hole] = net_of[PinRef(part.ref, pin)]
        for group in package.joined:
            at = [holes[package.pins.index(pin)] for pin in group]
            joins += list(itertools.pairwise(at))
    is_open = tuple(owner[h] < 0 and h not in under for h in range(len(ground.holes)))
    return Standing(tuple(owner), is_open, tuple(joins))


def _nets(circuit: Circuit) -> tuple[dict[PinRef, int], int]:
    """A net number for each pin: its own net's, that of a pin joined to it, or one that it has with its group alone."""
    number = {net.name: i for i, net in enumerate(circuit.nets)}
    count = len(number)
    of: dict[PinRef, int] = {}
    for part in circuit.parts:
        package = circuit.packages[part.package]
        group_of = {pin: group for group in package.joined for pin in group}
        for pin in package.pins:
            mates = [PinRef(part.ref, p) for p in group_of.get(pin, (pin,))]
            listed = [number[circuit.net_of[m]] for m in mates if m in circuit.net_of]
            numbered = [of[m] for m in mates if m in of]
            if listed:
                of[PinRef(part.ref, pin)] = listed[0]
            elif numbered:
                of[PinRef(part.ref, pin)] = numbered[0]
            else:
                of[PinRef(part.ref, pin)] = count
                count += 1
    return of, count
