"""From option codes to components at stations: what the order asks for, and where it goes."""
