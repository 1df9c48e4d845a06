"""One module for each format a drawing is written in."""
