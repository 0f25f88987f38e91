"""Light as hue, saturation and brightness, brought to what a display can show."""
