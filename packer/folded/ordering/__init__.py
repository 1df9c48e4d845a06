"""A layer order by construction: rings of molecules joined to one tour of all layers."""
