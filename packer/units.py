"""Units of length, named paper sizes and every named tolerance, each with its reason."""

from __future__ import annotations

import math
from typing import Final

MM_PER_UNIT: Final = {
    "mm": 1.0,
    "cm": 10.0,
    "m": 1000.0,
    "in": 25.4,
    "pt": 25.4 / 72,
}
"""Millimetres in one unit of a sheet; the names are those of the FOLD specification."""

PAPERS_MM: Final = {
    "A0": (841.0, 1189.0),
    "A1": (594.0, 841.0),
    "A2": (420.0, 594.0),
    "A3": (297.0, 420.0),
    "A4": (210.0, 297.0),
    "A5": (148.0, 210.0),
    "Letter": (215.9, 279.4),
    "Legal": (215.9, 355.6),
    "Tabloid": (279.4, 431.8),
}
"""Named papers, upright, width x height in mm: ISO 216 and ANSI/ASME Y14.1."""

ACTIVE: Final = 1e-7
"""Relative slack below which a path counts as active.

The local solver ends at 1e-13 of the scale; paths that are truly slack were never seen below
1e-6 on the samples, so a place between the two tells them apart.
"""

SPARE: Final = 1e-5
"""Share of its length by which a flap must be able to grow at no cost to count as loose.

A micrometre on a flap of 100 mm: nothing that a folder could use. Tips that contacts without a
force hold in place have up to 1e-8 to spare, from the room that the linear program keeps; loose
flaps of the samples have 1e-3 and more.
"""

HOLDS: Final = 1e-9
"""Relative amount by which an inequality may be missed when recomputed by someone else.

Leaves room for the last digits of other programs' square roots; far below any paper.
"""

SEARCHES_DIFFER: Final = 0.005
"""Share of the scale by which two searches of one figure may end apart where nothing is proven: about
the gap to the best known at 20 to 80 flaps (`python -m tests.benchmarks.search spread` and `large`)."""

ON_EDGE: Final = 1e-9
"""Distance, as a share of the sheet's shorter side, at which a tip lies on an edge or a corner."""

BOUND_ROOM: Final = 1e-12
"""Relative amount by which the scale of tips in exact places may come out above a proven bound.

Proof that it suffices. Bounds are rounded upwards: the classical rules and the area by 1e-12, and
branch and bound loosens every comparison by 1e-11 of the sheet, far more than the 2e-16 of it by
which the mirror image of a coordinate is rounded. The scale is the least of quotients of a root and
a distance: the distances are the very numbers that the bounds use, or longer ones, and the root
and the quotient add 4e-16. Tips off their places need no room here, whether they are free, on an
edge or on a fixed point: they are put there first, by `packer.model.exact_places`.
"""

SAME_SCALE: Final = 1e-9
"""Relative difference below which two scales count as the same."""

SAME_POINT: Final = 1e-9
"""Distance, as a share of the sheet's diagonal, below which two vertices of a pattern are one.

A thousandth of a micrometre on a metre of paper. Positions computed along two ways round the
same molecule differ by up to 1e-12 of the diagonal.
"""

EXACT: Final = 1e-15
"""Miss of an equation, as a share of the diagonal, at which Newton's method ends."""

ZERO_SLACK: Final = 1e-13
"""Miss, as a share of the diagonal, that is taken for rounding where it no longer shrinks.

Newton's steps end between 1e-16 and 1e-14; must lie below `ACTIVE_GAP`.
"""

RANK: Final = 1e-9
"""Singular value of a plan's equations, against the largest, that counts as none.

Mirror images and closed rings of active paths repeat each other's equations to 1e-15; the
smallest true ones seen were 1e-4.
"""

ROUNDING: Final = 1e-12
"""Relative amount by which a part may fall below its least length when it is held there."""

PROBE: Final = 1e-6
"""Step, as a share of the diagonal, by which a plan is moved to measure a derivative.

Paths kept active to first order miss by its square, 1e-12, far below `NO_LENGTH`; rounding of
1e-15 leaves nine digits of the derivative.
"""

UNBENT: Final = 1e-9
"""Bend the wrong way, as sine or as a share of the diagonal, at which a corner is still straight.

Fillers on a side lie on it to 1e-15; a corner that is truly bent would bend by 1e-4 and more.
"""

NO_TURN: Final = 1e-14
"""Twice the area of a triangle, as a share of the diagonal squared, that counts as none.

Rounding of coordinates gives 1e-16; tips nearer to a line than this, 1e-14 of the diagonal, lie on
it for every other tolerance as well.
"""

ALIKE: Final = 9
"""Decimals to which slacks are compared where sides are ranked.

Mirror images agree to 1e-15 and must rank alike; true ties are broken by the order of tips.
"""

NO_LENGTH: Final = 1e-10
"""Length, as a share of the diagonal, below which a sweep drops a piece of crease.

Must lie below `SAME_POINT`: what is dropped as too short has to be snapped together as well;
the other way round, slivers are left open.
"""

SAME_AREA: Final = 1e-8
"""Share of the sheet's area by which the faces of a pattern may miss the whole sheet."""

SAME_PLACE: Final = 1e-7
"""Height and tree place, as a share of the diagonal, by which merged vertices may differ.

A vertex at a sharp corner is placed less surely along the tree than on the sheet; a wrong
molecule misses by the size of its parts, 1e-3 and more.
"""

LAYER_TOLERANCE: Final = 1e-7
"""Share of the sheet's diagonal below which layers of a folded form do not overlap.

A hundred times the largest closing error allowed, so that layers that only touch along a line
are never taken to lie over each other; a thirtieth of a micrometre on a 300 mm sheet.
"""

TOUCHES: Final = 1e-12
"""Share of its terms below which a discriminant is nothing: a path that touches, not crosses.

Where facing sides meet in the very moment in which a diagonal becomes active, as in a mirrored
trapezoid, rounding by 1e-16 moves the event by 1e-8. Taken as touching, the path misses its
length by 1e-12 of a molecule's height at most.
"""

ACTIVE_GAP: Final = 1e-11
"""Slack, as a share of the diagonal, below which a path is active once it has been snapped.

Newton's steps leave 1e-15 and less; must lie below `NO_LENGTH`.
"""

FOLDS: Final = 5e-11
"""Error of a distance in a face when it is folded, as a share of the diagonal.

Sound patterns stay below 1e-12. Folding adds up the errors of faces, so this must lie well below
`SHUTS`: crabs built at 5e-10 a face ended at 1.2e-9 and were refused.
"""

STRAIGHT: Final = 1e-7
"""Sine of the turn below which a crease runs on straight through a vertex.

Vertices lie right to 1e-12 of the diagonal, so pieces longer than a hundred-thousandth of it are
joined; shorter ones may stay apart, which does no harm.
"""

PARALLEL: Final = 1e-9
"""Sine of the angle below which two sides of a molecule are one line.

The directions of sides are fixed at birth and right to 1e-15 over their lengths; sides shorter
than a millionth of the sheet would be less sure, and their patterns are not taken.
"""

SHUT: Final = 1e-14
"""One plus the cosine of the turn at a corner of a molecule below which it is folded shut.

Its corner would run away at 1e7 times the speed of the sides.
"""

SAME_WAY: Final = math.radians(0.1)
"""Angle between two creases below which they count as one direction: no hand tells them apart."""

MIRRORED: Final = 1e-6
"""Radians by which a vertex may miss being its own mirror image and still fold in two steps.

Kawasaki's theorem holds to that on patterns whose edges are longer than 1e-6 of the diagonal.
"""

SAME_SHAPE: Final = 1e-3
"""Relative difference between the side ratios of two sheets of one shape.

A third of a millimetre on a sheet of 350 mm: finer than paper is cut, coarser than the rounding
of a paper size such as 210 x 297 mm.
"""

SHUTS: Final = 1e-9
"""Share of the sheet's diagonal by which a folded form may miss where it should be.

Rounding alone gives up to 1e-12 on patterns of a thousand creases; a wrong crease misses by its
own size.
"""

BALANCE: Final = 1e-7
"""Singular value of a packing's forces, against the largest, that counts as none.

Far above what rounding leaves, and far below what a force is in any sample; a nearly degenerate
packing lies a hundred times below (`tests/benchmarks/trials.md`).
"""

OVERLAP: Final = 0.02
"""Length, as a share of the shorter side, that a fold must bring together, and of a crease itself.

Seven millimetres on a sheet of 350 mm; less says nothing of the angle (common practice).
"""

SAME_LINE: Final = 1e-7
"""Difference of direction, or of place as a share of the shorter side, below which lines are one.

Constructions of a dozen creases are right to 1e-12; different lines of up to three creases were
never nearer than 1e-5.
"""

ON_SHEET: Final = 1e-9
"""Distance, as a share of the shorter side, by which a mark may lie off the sheet by rounding."""

MARK_MM: Final = 0.5
"""Most, in mm, that a landmark's mark may lie from its tip where nothing is said.

A pencil's line: nearer than a fold by hand falls, so that the mark is not what makes it miss.
"""

MARK_ERROR_MM: Final = 1.0
"""Most, in mm, that a landmark's mark made by hand may be expected to miss where nothing is said.

Two folds' worth: what misses by more is better measured.
"""

HAND_MM: Final = 0.5
"""Standard deviation, in mm, of what a fold by hand misses where things are aligned.

Common practice among folders; no published measurement is known to us.
"""

POOR_CROSSING: Final = 0.3
"""Sine of the angle, 17.5 degrees, below which two lines make no mark: it would run along them."""

SAME_DIRECTION: Final = 1e-6
"""Sine of the angle, or place as a share of the diagonal, by which a face's line may miss a crease.

Slopes of faces are right to the rounding of their heights over their width: 1e-9 on the finest
patterns; creases that are truly apart were never nearer than 1e-4.
"""
