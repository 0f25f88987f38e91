"""Measuring pictures and colours: levels, ratios, differences. Import from the modules."""
