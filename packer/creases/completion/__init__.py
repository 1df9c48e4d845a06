"""Closing a packing: fillers on corners, sides and joints, and a convex partition."""
