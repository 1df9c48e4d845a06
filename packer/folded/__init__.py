"""The folded form of a crease pattern: where each face lies, what holds, which layer is above.

In: a `CreasePattern`. Out: a `FlatBase` (folded form, layer order, mountains and valleys), findings,
difficulty, the stages of the collapse.

    lay the largest face down; lay every neighbour by reflection in the crease between    (form)
    list what does not hold: Kawasaki's theorem, closing, the claimed tree       (checks, readback)
    order the layers by construction, the rest by an exact search over pairs      (layers, ordering/,
        layer_relations, pair_conditions, pair_search, maximal_subset, propagation, transitivity,
        decisions)
        valid where no two overlapping layers cross: taco-taco, taco-tortilla, transitivity
        (Justin, Origami Science and Technology 2, 1994; Akitaya, Demaine and Ku 2017)  (overlaps)
    count creases, layers and what must come together at once    (difficulty, layer_count)
    cut the sheet along axial creases from border to border into regions; fold the regions
        from the leaves of their tree inwards                    (regions, flat_states, stages)
    lay pleats across all paper of a part                        (pleats)
"""
