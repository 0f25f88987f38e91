"""Clips: frames in through PyAV (extra ``clips``), H.264 previews out."""
