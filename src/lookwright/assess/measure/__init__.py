"""Measuring pictures and colours: levels, ratios, differences."""
