"""What numbers mean: encodings, primaries, ranges, Oklab, and the conversions between domains."""
