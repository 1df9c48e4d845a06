"""A stick figure read from an SVG drawing."""
