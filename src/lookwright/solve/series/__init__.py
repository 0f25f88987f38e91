"""Keeping a series consistent: each still brought to an anchor still, then one look for all."""
