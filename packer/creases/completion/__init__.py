"""Complete a packing: fillers until the sheet is cut into convex polygons of active paths.

In: a tip layout whose inequalities hold. Out: a tip layout with fillers and the polygons, each
of which a universal molecule can fill; or, from `complete`, the crease pattern itself::

    move tips that nearly lie on the border onto it             (constraints.active_paths)
    make nearly active paths active, lengthen loose flaps, make active again
    add a filler in each corner of the sheet without a tip      (filler_search)
    repeat
        cut the sheet along its border, the active paths and
            as few other diagonals as will do                   (convex_partition)
        take the side with most slack; done if none has any
        add a filler on it that touches both its ends,
            or else one that touches one end and lies far on    (filler_search, filler_insertion)

Fillers always fit because metric trees are injective (Aronszajn and Panitchpakdi, Pacific J.
Math. 6, 1956). `borders` puts tips and fillers on the border for settling.
"""
