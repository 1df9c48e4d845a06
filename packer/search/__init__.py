"""Search: from a problem to the largest packing found, its certificate and its bound.

In: a problem, `SearchOptions` and perhaps a packing to begin from. Out: a `Packing`.

    options.py, stopping.py   seed, stopping rules, workers: one value that every search takes
    pack.py, gallery.py       the largest packing; the best few that are really different
    enumeration.py            one packing of a problem after another
    warm_start.py, carry.py   a packing of another figure or sheet as a start point
    frame.py, from_here.py    the packing next to one that is pulled at
    memetic/                  one start: population, operators, local solves
    parallel/                 starts spread over workers, and the bound beside them
    result/                   last digits, certificate, rattlers, distance of two packings
"""
