"""All findings of a plan: voltage, current, spacing and heat, in that order."""

from __future__ import annotations

from placer.errors import Diagnostic
from placer.limits.current import current_findings
from placer.limits.dc import estimate
from placer.limits.heat import heat_findings
from placer.limits.loads import net_loads
from placer.limits.network import networks
from placer.limits.spacing import spacing_findings
from placer.limits.voltage import voltage_findings
from placer.plan.conductors import CopperMap
from placer.plan.findings import Finding, same_findings
from placer.plan.model import Plan
from placer.plan.ports import mounted


def find(plan: Plan) -> tuple[Finding, ...]:
    """Return what a plan's copper, gaps and parts bear beside what they are asked to.

    The plan must have passed the judge: pins in holes that are there, each net in one piece. Same plan, same findings;
    there is at least one, on how the currents are known.
    """
    plan = mounted(plan)
    copper, known = CopperMap(plan), estimate(plan.circuit)
    loads = net_loads(plan.circuit, known)
    return (
        *voltage_findings(plan.circuit),
        *current_findings(plan, networks(plan, copper), loads, known),
        *spacing_findings(plan, copper, known),
        *heat_findings(plan.circuit, loads, known),
    )


def recorded_otherwise(plan: Plan, findings: tuple[Finding, ...]) -> tuple[Diagnostic, ...]:
    """Warn where a plan file records other findings than are found now, which count; () where it records none."""
    if not plan.findings or not findings or same_findings(plan.findings, findings):
        return ()
    message = "the findings that the plan file records are not those found now; those found now count"
    return (Diagnostic("findings-differ", message, "make the plan anew", severity="warning"),)
