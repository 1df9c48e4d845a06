"""The figure, its tree, the problem it poses on a sheet, and a packing that judges itself.

In: a stick figure as it is written, a sheet and a symmetry. Out: values that the other rooms take.

    parts, pleats, figure     what a designer writes: flaps, rivers, wishes; twins once
    leave_out                 the same figure with some of its parts left out
    tree, side_names          twins written out; lengths and distances along the tree
    sheet, problem            the sheet, and every wish as a range in which a tip may lie
    packing                   where the tips lie; `violations` recomputes all that must hold
    regions                   its discs and rivers as regions of the sheet
    river_connectivity        whether the paper would hold each river in one piece
    laying                    which of the sheet's positions agrees best with the drawing
    stick_layout, repulsion   where the nodes go when the stick figure is drawn
    subtree_isomorphism       which limbs are the same but for their names

Everything here is a frozen value that is checked when it is made, or a function of such values.
"""
