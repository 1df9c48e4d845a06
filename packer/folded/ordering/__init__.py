"""A layer order by construction: rings of molecules joined to one tour of all layers.

In: a folded form. Out: layers in one order, in which none passes through another, or none.

    for each root of the tree
        ring of a molecule: its layers in the order in which its boundary is walked    (rings)
        hang molecules on each other over gaps that both share; where the plain ring
            would cross itself, put a gusset's layers inside                    (tour, states)
        walk once round the tree of molecules: the order of all layers         (tour)
        what could not be hung, or whose ring is at fault: put in by a search over all pairs of
            layers, the order of the others kept if that can be                       (search)
        in a mirrored figure: an order that folds each crease like its image        (mirrored)
            or as many as can be (most_alike): from an order of few layers to one of
            all (growing), or with few layers free at a time, then all           (neighbourhoods)
        keep the first order in which no crease crosses a layer                (crossings)

On a grid the paper runs in strips, a polygon has several rings, and a crossing is a matter of whole
numbers (grid_rings); rings are hung, in mirror pairs as far as they can be, wherever nothing above crosses them (grid_tour), from
every root and many places, what the best tours leave out is put in as above (grid_construct), and folds are
mirrored from the best tours on (grid_mirrored).
The order goes to a judge that knows nothing of how it was made and takes samples of a very large
one (judge).

The construction is our own; its conditions are those of `packer.folded.overlaps`. Deciding whether
any crease pattern folds flat is NP-hard (Bern and Hayes, SODA 1996).
"""
