"""Reading EDIF 2 0 0 netlists."""
