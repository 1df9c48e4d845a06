"""From a packing to a crease pattern.

In: a `Packing`. Out: a `CreasePattern`, a plane graph on the sheet in which every crease has its
role in the uniaxial base; mountains and valleys are left to the layer order (`packer.folded`).

`tip_layout` is what all stages pass on: tips on the sheet, the tree with its lengths, fillers.
`completion` adds fillers until the sheet is cut into convex polygons of active paths.
`molecules` fills each polygon with its universal molecule and joins them.
`settling` gives up a little scale for creases that are large enough to fold.
`constraints` holds the conditions of a layout in the form that these need.
`pattern`, `plane_graph`, `tree_metric`, `faces` and `smallest_feature` are their geometry, and
`mountain_valley` the fold of each crease that a layer order implies.
"""
