"""Reading pictures and judging looks: levels and ratios, and the measures of what a look does."""
