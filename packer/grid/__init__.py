"""Box pleating: the same figure packed on whole cells, and the creases of that packing.

In: a `Problem` and the grid that is asked for. Out: a `GridPacking`, tips on the points of the
least grid for which max(|dx|, |dy|) >= d_ij for all pairs of tips, and a proven bound; then its
`CreasePattern`. The search (`pack_grid`, `neighbourhood_search`)::

    choose the length that is one cell and round all lengths     (rounding, proposals)
    refute small grids by counting and by area                   (lower_bounds, area_bound)
    fill the smallest grid on which a greedy filling succeeds    (greedy)
    repeat until the least grid is proven, or effort or time is used up
        large neighbourhood search: on a grid one size smaller, place a few
            tips anew by exact search, the others keeping their order    (neighbourhoods)
        exact search on the next smaller grid, twice as long each round  (cp_sat, milp)
        refute the smallest grid left by subsets of the tips
    join rivers into single bands where the least grid allows it         (slack)

Sources: the separation of squares, one of four directions for each pair, is the relative
position formulation of two-dimensional packing (common practice); large neighbourhood search:
Shaw, CP 1998. The bound by area is our own, with its proof in `area_bound`.
"""
