"""Undoing a look or a LUT: the colours it keeps apart, and the way back for them."""
