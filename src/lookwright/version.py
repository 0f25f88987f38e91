"""The release, as LUT headers and manifests tell it."""

__version__ = "0.1.0"
