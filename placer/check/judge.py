"""The judge: every rule applied to a plan, whoever made it. Knows nothing of the search."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from placer.check import bridges, copper, cuts, fit, holes, parts, ports, score, shared, wanted, wires, wishes
from placer.check.case import Case
from placer.check.report import Report
from placer.errors import Diagnostic
from placer.plan.model import Plan
from placer.plan.ports import mounted

Rule = Callable[[Case], Iterable[Diagnostic]]

RULES: tuple[Rule, ...] = (
    parts.the_file_is_sound,
    parts.nets_list_pins_that_exist,
    parts.every_part_is_placed,
    parts.every_pin_is_placed,
    parts.packages_are_the_circuits,
    holes.holes_exist,
    holes.drilled_holes_are_empty,
    holes.one_lead_a_hole,
    holes.leads_fit_holes,
    ports.parts_are_in_the_ports_wished,
    ports.parts_fit_their_ports,
    ports.wires_stay_out_of_ports,
    fit.packages_keep_their_shape,
    fit.bodies_do_not_overlap,
    fit.holes_under_bodies_are_free,
    fit.keepouts_are_clear,
    fit.bodies_stay_on_the_board,
    cuts.cuts_are_allowed_at_all,
    cuts.cuts_are_of_one_kind,
    cuts.cuts_are_on_the_board,
    cuts.strips_may_be_cut,
    cuts.cuts_are_made_once,
    cuts.cuts_separate_something,
    copper.joined_pins_are_of_one_net,
    copper.nets_are_in_one_piece,
    copper.nets_are_apart,
    copper.open_pins_touch_nothing,
    wires.jumpers_name_a_net,
    wires.jumpers_have_two_ends,
    wires.jumpers_join_their_own_net,
    wires.jumpers_are_needed,
    bridges.bridges_are_allowed,
    bridges.bridges_name_a_net,
    bridges.bridges_join_neighbours,
    bridges.bridges_join_two_strips,
    bridges.bridges_are_on_copper,
    bridges.bridges_are_made_once,
    bridges.bridges_join_their_own_net,
    bridges.bridges_are_needed,
    wishes.pins_are_in_the_holes_wished,
    wishes.parts_are_at_the_edge_wished,
    wishes.parts_are_turned_as_wished,
    wishes.parts_are_mounted_as_wished,
    wishes.parts_are_near_what_they_should,
    wishes.parts_are_away_from_what_they_should,
    wishes.parts_are_on_the_side_wished,
    wishes.diagonals_are_as_wished,
    shared.parts_are_together,
    shared.keepouts_wished_are_clear,
    shared.strips_are_owned_as_wished,
    shared.nets_are_short,
    shared.nets_are_apart_as_wished,
    wanted.the_score_of_wishes_is_true,
    score.jumper_lengths_are_true,
    score.score_counts_are_true,
    score.cost_is_true,
    score.proof_is_consistent,
)
"""Every rule, in the order their faults are told."""


def judge(plan: Plan) -> Report:
    """Apply every rule to a plan and return all that is wrong or doubtful; same plan, same report."""
    case = Case(mounted(plan))
    return Report.of(diagnostic for rule in RULES for diagnostic in rule(case))
