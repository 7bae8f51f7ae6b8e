"""The checks once more, in plain loops and without a line of the product's code, to hold it against."""
