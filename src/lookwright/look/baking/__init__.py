"""What needs both a look and a lattice: baking, viewing, foreign LUTs as looks, and looks back out of LUTs."""
