"""Breaking a frame down: its zones, the parts they play, faces and lamps, and the ratios between them."""
