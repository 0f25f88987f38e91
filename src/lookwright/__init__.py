"""lookwright: build, tune, measure, see and deliver a restrained warm/cool look.

Importing the package imports nothing heavy; take what you need from its rooms
(``lookwright.look.recipe``, ``lookwright.lut.formats``, ``lookwright.pictures.stills`` and so on).
"""

__version__ = "0.1.0"
