"""Proven upper bounds on the scale of any packing of a problem."""
