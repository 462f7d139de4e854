"""The circuit as plain data (for YAML, JSON and the plan file), and back: a circuit file in its long forms."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import yaml

from placer.circuit.build import build_circuit
from placer.circuit.model import Circuit, Force, Net, Owned, Part, Place, Region, Short, Together, Wishes
from placer.circuit.problems import Problems
from placer.circuit.read_yaml import PackageBook, parse_own
from placer.circuit.schema import Loc
from placer.errors import Diagnostic, PlacerError, Span
from placer.packages.catalogue import lookup, package_to_data
from placer.packages.faults import PackageError
from placer.packages.model import Package


def circuit_to_data(circuit: Circuit) -> dict[str, Any]:
    """Return the whole circuit as dicts, lists, text and numbers, with every package that it uses."""
    data: dict[str, Any] = {"circuit": circuit.name}
    if circuit.about:
        data["about"] = circuit.about
    data["parts"] = {part.ref: _part(part) for part in circuit.parts}
    data["nets"] = {net.name: _net(net) for net in circuit.nets}
    wishes = _wishes(circuit.wishes)
    if wishes:
        data["wishes"] = wishes
    data["packages"] = {name: package_to_data(package) for name, package in circuit.packages.items()}
    return data


def circuit_to_yaml(circuit: Circuit) -> str:
    """Return the circuit as the text of a circuit file, with the packages that are not the catalogue's."""
    data = circuit_to_data(circuit)
    data["nets"] = {name: net["pins"] if set(net) == {"pins"} else net for name, net in data["nets"].items()}
    own = {name: data["packages"][name] for name, package in circuit.packages.items() if not _of_catalogue(package)}
    del data["packages"]
    if own:
        data["packages"] = own
    return str(yaml.safe_dump(data, sort_keys=False, allow_unicode=True, default_flow_style=None, width=120))


def _of_catalogue(package: Package) -> bool:
    try:
        return lookup(package.name) == package
    except (KeyError, PackageError):
        return False


def circuit_from_data(data: Mapping[str, Any], *, file: str = "circuit data", base: Loc = ()) -> Circuit:
    """Return the circuit that :func:`circuit_to_data` was given, checked as a circuit file is.

    ``file`` and ``base`` say in messages where the data stand. Raises PlacerError with every problem found.
    """

    def locate(loc: Loc, key: bool = False) -> Span:  # noqa: ARG001 - plain data have no lines to point at
        return Span(f"{file} at {'.'.join(map(str, (*base, *loc)))}" if loc or base else file)

    problems = Problems()
    packages = data.get("packages") if isinstance(data, Mapping) else None
    if packages is not None and not isinstance(packages, Mapping):
        problems.error("wrong-type", "packages: expected a mapping from name to package", locate(("packages",)))
        packages = None
    own = parse_own(packages or {}, ("packages",), locate, problems)
    circuit = build_circuit(_as_text(data), locate, PackageBook(own, locate, problems).find, problems, "")
    problems.finish()
    if circuit is None:  # pragma: no cover - finish() has raised
        raise PlacerError(Diagnostic("empty-circuit", f"{file} holds no circuit", span=Span(file)))
    return circuit


def _part(part: Part) -> dict[str, Any]:
    data: dict[str, Any] = {"package": part.package}
    if part.value:
        data["value"] = part.value
    if part.pin_names:
        data["pins"] = dict(part.pin_names)
    place = _place(part.place)
    if place:
        data["place"] = place
    return data


def _place(place: Place) -> dict[str, Any]:
    data: dict[str, Any] = {}
    if place.at:
        data["at"] = dict(place.at)
    for key in ("edge", "rotation", "mount", "side", "diagonal", "flying", "port"):
        value = getattr(place, key)
        if value is not None:
            data[key] = value
    if place.near:
        data["near"] = [{"pin": str(wish.pin), "steps": wish.steps} for wish in place.near]
    if place.away:
        data["away"] = [{"part": wish.ref, "mm": wish.mm} for wish in place.away]
    if place.fixed:
        data["fixed"] = True
    if place.prefer:
        data["prefer"] = [{**_place(entry.place), **_force(entry.force)} for entry in place.prefer]
    return data


def _force(force: Force) -> dict[str, Any]:
    figures = {"weight": force.weight, "cost": force.cost}
    return {key: value for key, value in figures.items() if value is not None}


def _wishes(wishes: Wishes) -> dict[str, Any]:
    data: dict[str, Any] = {}
    for wish in wishes.shared:
        if isinstance(wish, Together):
            entry = {"parts": list(wish.parts), "steps": wish.steps, **_force(wish.force)}
            data.setdefault("together", []).append(entry)
        elif isinstance(wish, Region):
            data.setdefault("keepout", []).append({"from": wish.start, "to": wish.end})
        elif isinstance(wish, Owned):
            data.setdefault("rails", {}).setdefault(wish.net, []).append({"strip": wish.strip, **_force(wish.force)})
        elif isinstance(wish, Short):
            data.setdefault("short", []).append({"net": wish.net, "mm": wish.mm, **_force(wish.force)})
        else:
            data.setdefault("apart", []).append({"nets": list(wish.nets), "mm": wish.mm, **_force(wish.force)})
    if wishes.habits:
        data["habits"] = {name: False if force is None else _force(force) for name, force in wishes.habits.items()}
    return data


def _net(net: Net) -> dict[str, Any]:
    data: dict[str, Any] = {"pins": [str(pin) for pin in net.pins]}
    if net.role != "signal" or net.plain:
        data["role"] = net.role
    for key in ("volts", "amps"):
        value = getattr(net, key)
        if value is not None:
            data[key] = value
    if net.ac:
        data["ac"] = True
    return data


def _as_text(value: Any, depth: int = 0) -> Any:
    """Return data with every scalar as text, as a file's reader hands it on; None stays None."""
    if value is None or isinstance(value, str):
        return value
    if isinstance(value, bool):
        return "true" if value else "false"
    if depth > 60:
        return "..."  # far deeper than any schema looks
    if isinstance(value, Mapping):
        return {str(key): _as_text(item, depth + 1) for key, item in value.items() if depth or key != "packages"}
    if isinstance(value, list | tuple):
        return [_as_text(item, depth + 1) for item in value]
    return str(value)
