"""What can be drawn, in millimetres, and how each kind looks."""
