"""From the best local optimum to a packing: polish, certificate, rattlers, distance."""
