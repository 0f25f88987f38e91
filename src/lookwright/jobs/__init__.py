"""Each command's work as a typed function: plain arguments, a typed result, one protocol for progress."""
