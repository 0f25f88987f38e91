"""What no recipe explains, learnt from graded frames as a lattice."""
