"""Pictures in and out: stills and clips with their bit depth kept, marks on them, many at a time."""
