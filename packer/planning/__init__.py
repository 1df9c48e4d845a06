"""Questions that a designer asks of results: which sheet, which paper, what to shorten.

In: a figure or a packing. Out: values that tables and plates show. `compare` and `sweep` pack one
figure on several sheets, held equal in what is asked for (`shapes`, `stock`), and return a
`Comparison` or a `Sweep`; `fold_ranking` settles and measures the creases of each, and `ranking`
ranks them by scale against difficulty. `plan` turns a packing into millimetres, layers and
thickness on a sheet of true size in one paper (`paper`, `layer_estimate`). `advice` reads the
multipliers of the packing: what a shorter part would gain and which flap could be longer at no
cost.
"""
