"""Papers for people: the drawing and its sheets, lists and pictures, the route card."""
