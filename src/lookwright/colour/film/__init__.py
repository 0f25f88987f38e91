"""A negative, its print and the projector, from first principles. Knows nothing of recipes."""
