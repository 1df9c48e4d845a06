"""What to draw, said once in mm with y up; writers turn it into a format, plates into a page.

In: a figure, packing, grid, crease pattern, folded form or guide. Out: a `Drawing`: marks in
groups.

    figure_drawing, packing_drawing, grid_drawing, crease_drawing    one module a subject
    folded_drawing, base_drawing, state_drawing                      folded paper, seen in three ways
    landmark_drawing, precrease_drawing, stage_drawing, pleat_drawing    one step of a guide
    guide_panels                   the steps of a guide with their sentences
    contour, sheet_names, arrows, straight_runs    what several of them share
    marks/                         what can be drawn, and one table of how each kind looks
    writers/                       one output format a module
    plates/                        pages that put drawings side by side

Nothing here searches or folds: what is drawn is handed over complete.
"""
