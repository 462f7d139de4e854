"""Writing a circuit as a pin list, ``part,pin,net,package,value``: a line for each pin, open ones too."""

from __future__ import annotations

import csv
import io

from placer.circuit.model import Circuit, PinRef


def circuit_to_csv(circuit: Circuit) -> str:
    """Return the pin list: parts in the circuit's order, pins in their package's; an open pin has an empty net.

    Not held: the circuit's name and about, roles, volts and amps of nets, names of pins, wishes, and the shape of the
    user's own packages.
    """
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(("part", "pin", "net", "package", "value"))
    for part in circuit.parts:
        for pin in circuit.packages[part.package].pins:
            net = circuit.net_of.get(PinRef(part.ref, pin), "")
            writer.writerow((part.ref, pin, net, part.package, part.value))
    return text.getvalue()
