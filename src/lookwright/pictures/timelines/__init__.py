"""Timelines: which shots an edit is made of, and where their media lie (extra ``timeline``)."""
