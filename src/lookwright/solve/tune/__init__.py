"""Tuning a look's parameters to pictures and levels, and learning what no recipe explains. Import from the modules."""
