"""The rail as geometry: section, tail taper, liner, and the way from finished part to blank and back."""
