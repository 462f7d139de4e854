"""A netlist in its plainest form, from a circuit or from a plan's copper, and ways to spoil it.

Outside programs get their input from this form only, so that source and copper take the same road to them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import networkx as nx

from placer.circuit.model import Circuit, PinRef
from placer.plan.model import Plan
from placer.plan.readback import readback


@dataclass(frozen=True)
class Device:
    """A part as an outside program sees it. ``nodes``: pin -> node in the package's pin order.

    ``symmetric``: pins 1 and 2 may be exchanged.
    """

    package: str
    value: str
    nodes: Mapping[str, str]
    symmetric: bool = False


Netlist = Mapping[str, Device]
"""Devices by reference designator."""


def from_circuit(circuit: Circuit) -> Netlist:
    """The netlist of a circuit. Pins that metal inside a part joins share a node; every other open pin has its own."""
    devices: dict[str, Device] = {}
    for part in circuit.parts:
        package = circuit.packages[part.package]
        nodes = {pin: circuit.net_of.get(PinRef(part.ref, pin), f"open {part.ref}.{pin}") for pin in package.pins}
        for group in package.joined:
            listed = [nodes[pin] for pin in group if PinRef(part.ref, pin) in circuit.net_of]
            nodes.update(dict.fromkeys(group, listed[0] if listed else nodes[group[0]]))
        devices[part.ref] = Device(part.package, part.value, nodes, package.symmetric)
    return devices


def swapped(netlist: Netlist, first: str, second: str) -> Netlist:
    """The netlist with the nodes of two pins (``R1.2``) exchanged."""
    (ref_a, pin_a), (ref_b, pin_b) = first.split("."), second.split(".")
    node_a, node_b = netlist[ref_a].nodes[pin_a], netlist[ref_b].nodes[pin_b]
    return _with_node(_with_node(netlist, ref_a, pin_a, node_b), ref_b, pin_b, node_a)


def loosened(netlist: Netlist, pin: str) -> Netlist:
    """The netlist with one pin (``R1.2``) taken off its node."""
    ref, number = pin.split(".")
    return _with_node(netlist, ref, number, f"open {pin}")


def revalued(netlist: Netlist, ref: str, value: str) -> Netlist:
    """The netlist with another value for one part."""
    return {**netlist, ref: replace(netlist[ref], value=value)}


def _with_node(netlist: Netlist, ref: str, pin: str, node: str) -> Netlist:
    device = netlist[ref]
    return {**netlist, ref: replace(device, nodes={**device.nodes, pin: node})}


def fingerprint(netlist: Netlist) -> str:
    """A hash that different orders and names of parts and nodes do not change; different hashes: different circuits."""
    graph = nx.Graph()
    for ref, device in netlist.items():
        graph.add_node(f"part {ref}", label=f"{device.package} {device.value}")
        for pin, node in device.nodes.items():
            graph.add_node(f"node {node}", label="node")
            # A node of its own for each pin: a part may have several pins on one node.
            graph.add_node(f"pin {ref}.{pin}", label="pin" if device.symmetric else f"pin {pin}")
            graph.add_edge(f"part {ref}", f"pin {ref}.{pin}")
            graph.add_edge(f"pin {ref}.{pin}", f"node {node}")
    return str(nx.weisfeiler_lehman_graph_hash(graph, node_attr="label", iterations=12))


def from_plan(plan: Plan) -> Netlist:
    """The netlist that the plan's copper makes, with parts in the order of their places and nodes of its own naming."""
    nets = tuple(replace(net, name=f"copper {n}") for n, net in enumerate(reversed(readback(plan)), start=1))
    devices = from_circuit(replace(plan.circuit, nets=nets))
    return {ref: devices[ref] for ref in sorted(devices, key=lambda ref: sorted(plan.placements[ref].pins.values()))}
