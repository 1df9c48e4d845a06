"""Proven upper bounds on the scale of any packing of a problem.

In: a problem, perhaps a good packing of it, and how much work may be spent. Out: a bound with the rule
that proves it. Every packing of the whole holds one of any of its tips, so a bound for some tips is
one for all.

    bound := least of the classical rules and the tree area bound          (tree_area: the proof)
    subset := the two tips farthest apart
    while the work is not spent and the bound is above the best packing
        subset := subset and the tip that lowers its optimum most          (subset_growth)
        s := a scale just above the optimum of the most promising subset   (subset_proofs)
        branch and bound over boxes of its coordinates:                    (branch_and_bound)
            narrow each box by every pair that must be m d_ij apart; drop empty ones; halve the rest
        if no box is left: bound := s
"""
