"""The shop: tools, punching, forming, peening, coating, and the route a part takes through them."""
