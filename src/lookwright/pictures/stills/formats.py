"""Which files are pictures, told by their first bytes rather than by their name."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Format:
    """A picture format: our word for it, OpenImageIO's, its suffixes, and what it can hold."""

    name: str
    plugin: str
    suffixes: tuple[str, ...]
    depths: tuple[str, ...]
    default: str
    alpha: bool
    icc: bool


PNG = Format("PNG", "png", (".png",), ("8", "16"), "16", alpha=True, icc=True)
TIFF = Format("TIFF", "tiff", (".tif", ".tiff"), ("8", "16", "half", "float"), "16", alpha=True, icc=True)
EXR = Format("EXR", "openexr", (".exr",), ("half", "float"), "half", alpha=True, icc=False)
DPX = Format("DPX", "dpx", (".dpx",), ("8", "10", "12", "16"), "10", alpha=True, icc=False)
JPEG = Format("JPEG", "jpeg", (".jpg", ".jpeg"), ("8",), "8", alpha=False, icc=True)
WEBP = Format("WebP", "webp", (".webp",), ("8",), "8", alpha=True, icc=True)

FORMATS = (PNG, TIFF, EXR, DPX, JPEG, WEBP)
SUFFIXES = tuple(s for f in FORMATS for s in f.suffixes)
READABLE = "PNG, TIFF, EXR, DPX, JPEG or WebP"

# First bytes, from each format's own specification: PNG (W3C, 5.2), TIFF 6.0 section 2 and BigTIFF,
# OpenEXR file layout (magic number 20000630), SMPTE ST 268 (DPX magic in both byte orders),
# JPEG (ITU-T T.81, SOI marker followed by another marker). WebP is told apart below.
_SIGNATURES: tuple[tuple[bytes, Format], ...] = (
    (b"\x89PNG\r\n\x1a\n", PNG),
    (b"II*\x00", TIFF),
    (b"MM\x00*", TIFF),
    (b"II+\x00", TIFF),
    (b"MM\x00+", TIFF),
    (b"\x76\x2f\x31\x01", EXR),
    (b"SDPX", DPX),
    (b"XPDS", DPX),
    (b"\xff\xd8\xff", JPEG),
)


def by_content(head: bytes) -> Format | None:
    """The format whose signature ``head`` (16 bytes are plenty) begins with, or None."""
    for signature, kind in _SIGNATURES:
        if head.startswith(signature):
            return kind
    # RFC 9649, 2.4: the size of the file stands between the two words. Other files begin with RIFF, too.
    return WEBP if head[:4] == b"RIFF" and head[8:12] == b"WEBP" else None


def by_suffix(suffix: str) -> Format | None:
    """The format written for a file suffix such as ``.tif``, in any case, or None."""
    suffix = suffix.lower()
    for kind in FORMATS:
        if suffix in kind.suffixes:
            return kind
    return None
