"""Explaining a LUT that came without a recipe: few steps that do what it does, and what they leave."""
