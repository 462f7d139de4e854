"""A plan with its ports in use: the board as it is electrically where connectors stand in ports."""

from __future__ import annotations

from dataclasses import replace

from placer.boards.ports import port_at, with_ports
from placer.plan.model import Plan


def mounted(plan: Plan) -> Plan:
    """Return the plan on its board with the pads as holes of every port that a part stands in; the same where none."""
    used = [
        found[0].name
        for placement in plan.placements.values()
        for address in placement.pins.values()
        if address not in plan.board.holes and (found := port_at(plan.board, address)) is not None
    ]
    return replace(plan, board=with_ports(plan.board, used)) if used else plan
