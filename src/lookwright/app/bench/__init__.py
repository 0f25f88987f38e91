"""The local bench: a page in the browser where a look is shaped by eye, with the measurements beside it."""
