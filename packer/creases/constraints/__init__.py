"""The conditions of a tip layout, as equations and inequalities in its variables.

In: a tip layout (tips, tree, lengths). Out: a tip layout that satisfies more, or the derivatives
that an optimiser needs. The variables are the coordinates of all tips and the lengths of all
edges; borders, placements and mirror lines fix or couple some of them (`variables`). The
conditions are the active paths, |p_i - p_j| = d_ij, straight corners, and least lengths
(`equations`, `convexity`, `length_bounds`). `active_paths` projects a layout onto equations by
the Gauss-Newton method, each step the shortest that solves the linearised system
(J x = -r, x = -J^+ r), and lengthens loose flaps by linear programs (`linear_program`).
"""
