"""One file format a module; types only, never a search."""
