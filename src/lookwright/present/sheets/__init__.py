"""Pictures about pictures: pairs, wipes, contact sheets, plots. Captions stand outside the frames."""
