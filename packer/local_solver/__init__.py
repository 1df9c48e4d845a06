"""From a start point to a local optimum: the nonlinear program and its interior-point method.

In: a posed problem and a point for each tip. Out: a local optimum of the scale m.

    assign a range to each tip; compile the program
    maximise m subject to |p_i - p_j| >= m d_ij, tips in their ranges
    repeat                                  (S. J. Wright, Primal-Dual Interior-Point Methods, 1997)
        working set: the paths that are nearly active
        gap := sum of multipliers times slacks; stop where it is small beside m
        barrier parameter := centring * mean product
        solve the normal equations for a Newton step; go 98 % of the way to the nearest bound
        recompute the slacks from the true distances (convex, so no step leaves the feasible set)
"""
