"""File names that every system can hold, so that a folder made on one can be carried to another.

The rules are those of Windows, which are the narrowest (Microsoft, "Naming Files, Paths, and Namespaces"): no control
characters and none of ``< > : " / \\ | ? *``, no dot or space at the end, none of the names of devices, with whatever
ending. Length: 255 bytes of UTF-8 (ext4), which are within the 255 UTF-16 units of NTFS and APFS.
"""

from __future__ import annotations

import re
import unicodedata

MOST_BYTES = 255
LONGEST_PATH = 259
"""Characters of a whole path on Windows, where nobody has lifted the old limit: MAX_PATH is 260 with its last zero."""

_BAD = re.compile(r'[\x00-\x1f<>:"/\\|?*]')
_DEVICE = re.compile(r"(con|prn|aux|nul|conin\$|conout\$|(com|lpt)[0-9¹²³])[ ]*(?=\.|$)", re.IGNORECASE)


def folded(name: str) -> str:
    """Names that some system takes for one, by case or by how an accent is spelt, give one text."""
    return unicodedata.normalize("NFC", unicodedata.normalize("NFD", name).casefold())


def portable(name: str, most: int = MOST_BYTES) -> str:
    """``name`` as every system can hold it; the same where it can be held already.

    Parameters
    ----------
    name
        One part of a path.
    most
        Bytes of UTF-8 that it may have.
    """
    name = _BAD.sub("-", name)
    device = _DEVICE.match(name)
    if device is not None:
        name = f"{device[1]}-{name[device.end() :]}"
    if len(data := name.encode("utf-8", "surrogateescape")) > most:
        name = data[:most].decode("utf-8", "ignore")
    stripped = name.rstrip(". ")
    return stripped if stripped else name.replace(".", "-").replace(" ", "-")


def why_not(name: str) -> str:
    """Why another system cannot hold ``name``, in words; empty where all can."""
    if bad := _BAD.search(name):
        return f"has {bad[0]!r} in it" if bad[0].isprintable() else "has a control character in it"
    if device := _DEVICE.match(name):
        return f"is the name of a device, {device[1].upper()}"
    if name not in (".", "..") and name.endswith((".", " ")):
        return f"ends with a {'dot' if name[-1] == '.' else 'space'}"
    if len(name.encode("utf-8", "surrogateescape")) > MOST_BYTES:
        return "is too long"
    return ""


class Names:
    """Names for the outputs in one folder, each made from the name of an input; tells which were changed."""

    ROOM = 8
    """Bytes kept free for the number of a name that was there already."""
    MOST_OF_PART = 100
    """Bytes of a name that goes into the ending of others, which so keep room for their own."""

    def __init__(self) -> None:
        self._taken: set[str] = set()
        self.changed: dict[str, str] = {}
        """By the name of an input, what stands for it in the names of its outputs."""
        self._numbered: dict[str, str] = {}

    def of(self, stem: str, ending: str) -> str:
        """``stem`` and ``ending`` in one name, the stem made portable, shortened and numbered as is needed."""
        room = MOST_BYTES - len(ending.encode("utf-8", "surrogateescape")) - self.ROOM
        kept = self._kept(stem, room)
        made = unique(kept, self._taken)
        if made != kept:
            self._numbered[kept] = made
        return made + ending

    def part(self, stem: str) -> str:
        """``stem`` made portable, for the ending of other names."""
        return self._kept(stem, self.MOST_OF_PART)

    def _kept(self, stem: str, most: int) -> str:
        made = portable(stem, most)
        if made != stem:
            self.changed[stem] = made
        return made

    def sentences(self) -> list[str]:
        """What was changed, one sentence for each."""
        why = "not every system can hold this name"
        changed = [f"{stem}: {why}, so what is made of it is called {made}" for stem, made in self.changed.items()]
        again = "another has this name, but perhaps for its case, so what is made of this one is called"
        return changed + [f"{stem}: {again} {made}" for stem, made in self._numbered.items()]


def unique(name: str, taken: set[str]) -> str:
    """``name``, numbered when it is in ``taken`` already; adds to ``taken``.

    Names that differ only in case, or in how an accent is spelt, are one name on some systems, and so here.
    """
    given, n = name, 2
    while folded(given) in taken:
        given, n = f"{name}-{n}", n + 1
    taken.add(folded(given))
    return given
