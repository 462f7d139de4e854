"""placer: a circuit in, a proved and checked plan for a pre-bussed board out."""

__version__ = "0.1.0"
