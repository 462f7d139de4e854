"""What to build on: the model of boards, the loader and the catalogue (YAML)."""
