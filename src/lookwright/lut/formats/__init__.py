"""LUT files: .cube, CLF, ASC CDL, Hald and OpenColorIO configurations, written strictly and read with care."""
