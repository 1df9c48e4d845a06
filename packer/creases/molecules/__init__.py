"""Fill polygons with universal molecules and join these to a crease pattern.

In: convex polygons whose sides are active paths, with the tree. Out: the crease pattern. The
molecule of one polygon (`universal_molecule`)::

    height = 0
    repeat for each polygon that is left, until none has an area
        merge corners that meet; drop straight corners
        if a diagonal is active: a gusset along it; go on with the two parts
        move all sides inwards at unit speed to the next event:
            a side vanishes, a diagonal becomes active,
            or a corner comes to lie over a node of the tree
        the corners trace ridges, the tree's nodes on the sides trace hinges

`assembly` merges the ends of the creases of all molecules into the vertices of a plane graph,
and checks that neighbouring molecules agree and that every face folds without stretching.

Source: universal molecule of the tree method, SoCG 1996; Bowers and Streinu, Ann. Math. Artif.
Intell. 74, 2015; Demaine and O'Rourke, Geometric Folding Algorithms, 2007, ch. 16.
"""
