"""What to draw, said once in mm with y up, and one writer a format."""
