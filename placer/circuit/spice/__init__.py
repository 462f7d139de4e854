"""The SPICE netlist reader: cards out of files, tokens out of cards, elements out of tokens."""
