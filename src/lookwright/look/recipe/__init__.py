"""The recipe: its model, its text, and the pipeline compiled from it."""
