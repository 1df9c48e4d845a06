"""Search: from a problem to the largest packing found, its certificate and its bound."""
