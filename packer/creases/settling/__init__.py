"""Settle a packing: give up a little scale for a crease pattern whose features a hand can fold.

In: a packing, the share of scale that may be given up, a seed. Out: a `Settled` packing with its
crease pattern, its smallest feature and what became of each length.

The algorithm is a random multistart over trials, each improved by an ascent::

    repeat
        take a packing of the pool and draw a trial at random             (trial)
        move tips near the borders onto them; put fillers into free corners
        repeat a few times
            close_slack: linear programs that grow parts and move tips
                until most sides of a triangulation are active paths
            hang a filler from a joint on each side that is still loose
        for each of a few tolerances
            make every path with less slack exactly active (Newton's method),
                close the layout and fill its polygons: a candidate
            feature_ascent: steps along the null space of the active paths,
                each a linear program on the derivatives of the features
        keep the candidate with the fewest split rivers, then the largest smallest feature
    until the trials, the time or the patience are used up

Source: trust-region sequential linear programming (Fletcher and Sainz de la Maza, Mathematical
Programming 43, 1989) applied to the conditions of the tree method (SoCG 1996); the trials are
our own.
"""
