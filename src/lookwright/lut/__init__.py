"""LUTs, with no idea of a recipe: lattices in memory, the files that carry them, and their fit to a colour function."""
