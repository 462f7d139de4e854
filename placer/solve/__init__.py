"""Pins to strips: the problem as plain numbers, bounds, plans, proofs, jumpers, the run."""
