"""Parts that short two of their own nets wherever they stand."""

from __future__ import annotations

from dataclasses import replace

from placer.boards.catalogue import load_board
from placer.boards.model import Board
from placer.circuit.model import Circuit, Net, Part, PinRef, Place, Region, Wishes
from placer.errors import Diagnostic
from placer.packages.catalogue import lookup
from placer.plan.model import Options
from placer.solve.api import Outcome, Request
from placer.solve.conflict import explain_none
from placer.solve.ownnets import SHORTS_ITSELF, shorted
from placer.solve.problem import build
from placer.solve.run import solve
from tests.solve.cases import board_of

FIVE = load_board("five-hole-30")
UNCUT, CUT = Options(allow_cuts=False), Options(allow_cuts=True)


def header_of(*, alike: bool = False, place: Place | None = None) -> Circuit:
    """A header of two rows of three pins: across the strips neighbours in a row meet on one, else both rows do.

    ``alike``: both pins of a pair belong to one net.
    """
    nets: dict[str, list[PinRef]] = {}
    for pin in range(1, 7):
        nets.setdefault(f"N{(pin + 1) // 2 if alike else pin}", []).append(PinRef("J1", str(pin)))
    parts = (Part("J1", "header-2x3", place=place or Place()),)
    own = {"header-2x3": lookup("header-2x3")}
    return Circuit("header", parts, tuple(Net(name, tuple(pins)) for name, pins in nets.items()), own)


def told(own: Circuit, board: Board, options: Options) -> Diagnostic | None:
    return shorted(build(own, board, options))


def none_of_it(_: Request) -> Outcome:
    """What the search for a smallest conflict would ask."""
    raise AssertionError


def test_it_is_all_that_is_said_and_cuts_are_proposed() -> None:
    request = Request(header_of(), FIVE, UNCUT)
    outcome = explain_none(request, solve(request, lambda _: ()), lambda _: (), none_of_it)
    assert outcome.plan is None
    assert outcome.proved_impossible
    assert [reason.code for reason in outcome.reasons] == [SHORTS_ITSELF]
    assert "J1 (header-2x3)" in outcome.reasons[0].message
    assert "--cuts" in (outcome.reasons[0].help or "")


def test_where_strips_may_be_cut_it_stands() -> None:
    assert told(header_of(), FIVE, CUT) is None


def test_cuts_that_the_board_has_not_are_not_proposed() -> None:
    board = board_of([[(x, y) for x in range(4)] for y in range(6)])
    found = told(header_of(), board, UNCUT)
    assert found is not None
    assert "cut" not in (found.help or "").lower()


def test_pins_of_one_net_may_share_a_strip() -> None:
    assert told(header_of(alike=True), FIVE, UNCUT) is None


def test_a_keep_out_that_may_be_the_cause_is_not_passed_over() -> None:
    own = replace(header_of(), wishes=Wishes((Region("e1", "f30"),)))
    assert told(own, FIVE, UNCUT) is None


def test_where_there_are_wishes_other_checks_tell_what_is_wrong() -> None:
    request = Request(header_of(place=Place(rotation=0)), FIVE, UNCUT)
    outcome = explain_none(request, solve(request, lambda _: ()), lambda _: (), lambda r: solve(r, lambda _: ()))
    assert outcome.proved_impossible
    assert SHORTS_ITSELF not in [reason.code for reason in outcome.reasons]
