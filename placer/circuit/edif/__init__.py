"""Reading EDIF 2 0 0 netlists."""

from placer.circuit.edif.read import read_edif

__all__ = ["read_edif"]
