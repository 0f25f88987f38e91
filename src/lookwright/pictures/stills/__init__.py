"""Pictures in and out with their bit depth kept, marks on them, and ICC profiles for previews.

This room imports nothing from the other rooms. numpy is loaded here;
OpenImageIO, Pillow and tifffile only when a picture is read or written.
"""

from .find import find_stills
from .icc import profile_for
from .marks import Mark, marks_for, parse_mark, parse_marks, read_marks, region
from .picture import CodedStill, Still
from .read import read, read_codes, read_either, read_once, size_of
from .write import holds_icc, write

__all__ = [
    "CodedStill",
    "Mark",
    "Still",
    "find_stills",
    "holds_icc",
    "marks_for",
    "parse_mark",
    "parse_marks",
    "profile_for",
    "read",
    "read_codes",
    "read_either",
    "read_marks",
    "read_once",
    "region",
    "size_of",
    "write",
]
