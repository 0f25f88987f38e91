"""A delivery folder: every form of a look that a finishing artist may need, checked by readers that are not ours."""
