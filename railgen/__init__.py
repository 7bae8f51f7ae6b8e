"""railgen: the holes of a truck frame rail, from the order to the cut file and the route card."""

__version__ = "0.1.0"
