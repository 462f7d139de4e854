"""The judge: copper to conductors, conductors against nets, fit, limits. Knows nothing of the search."""
