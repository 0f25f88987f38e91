"""Measures of harm, for a look or any LUT: skin, greys, tone, noise, gradients."""
