"""Mirror images of the rings of a box-pleated pattern, and of the places in them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from packer.folded.ordering.grid_rings import SPACE

if TYPE_CHECKING:
    from packer.folded.ordering.grid_rings import GridRings
    from packer.folded.ordering.mirror import MirrorImages


class GridImages:
    """The image of each ring, walked the other way round.

    Attributes
    ----------
    mirror
        The images of the pattern's parts.
    ring
        The number of each ring's image.
    """

    def __init__(self, rings: GridRings, mirror: MirrorImages) -> None:
        self.rings, self.mirror = rings, mirror
        layer = mirror.of_sets(rings.layer_of)
        self.ring: list[int] = []
        self._sum: list[int] = []
        self._length = [len(ring.layers) for ring in rings.all]
        for ring in rings.all:
            first, at = next(iter(ring.place.items()))
            image = int(layer[first])
            other = int(rings.ring_of[image])
            self.ring.append(other)
            self._sum.append(rings.all[other].place[image] + at)

    def place(self, ring: int, at: int) -> int:
        """Return the image, in the image of a ring, of the place before its entry `at`."""
        return (self._sum[ring] - at + 1) % self._length[self.ring[ring]]

    def on_line(self, ring: int, at: int) -> bool:
        """Whether a place of a ring is its own image, or no layer lies between the two."""
        if self.ring[ring] != ring:
            return False
        layers, image = self.rings.all[ring].layers, self.place(ring, at)
        after, before = (image - at) % len(layers), (at - image) % len(layers)
        return (
            image == at
            or (after == 1 and layers[at] == SPACE)
            or (before == 1 and layers[image] == SPACE)
        )


def images_of(rings: GridRings, mirror: MirrorImages | None) -> GridImages | None:
    """Return the images of rings; None without a mirror line, or where the root lies beside it."""
    if mirror is None or (rings.form.folded != rings.form.folded[mirror.edges]).any():
        return None
    return GridImages(rings, mirror)
