"""Questions a designer asks of results: which sheet, which paper, what to shorten."""
