"""Fitting a lattice to a function of colour, and measuring how close it is."""
