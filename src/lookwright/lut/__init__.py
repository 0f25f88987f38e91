"""LUTs: sampling a look on a lattice, looking values up, applying pictures, reading and writing files.

Import from the modules (``lattice``, ``interpolate``, ``cube``, ``embed``,
``apply``, ``fidelity``); this file imports nothing, so that a command that
needs one of them does not pay for the others.
"""
