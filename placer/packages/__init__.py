"""The shape of parts: the catalogue (YAML) and the geometry of a part on the grid."""
