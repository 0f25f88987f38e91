"""Colour science with no idea of a recipe: what numbers mean, the physics of film, and the plain rendering."""
