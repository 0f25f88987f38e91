"""A LUT in memory: the lattice, lookups in it, and putting pictures through it fast."""
