"""Pages that show results side by side with their numbers.

In: results and their drawings. Out: a `Drawing` of a whole page, or a plot, for the writers.

    packing_plate     a stick figure beside its packing; the packings of a gallery
    crease_plate      a crease pattern beside its folded form
    grid_plate        a grid packing beside its creases, with the units to choose from
    compare_plate     one figure on several sheets, all at one scale
    levels_plate      a figure at its levels of detail, and scale over flaps
    guide_pages       a fold guide as pages
    sweep_plot        scale over side ratio
    snap_plot         scale against the creases that find the tips
"""
