"""Tuning a look's parameters to pictures and levels, with restraint."""
