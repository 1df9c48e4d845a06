"""The page's painting of discs and rivers against their regions, computed by shapely."""

import base64
from pathlib import Path

import numpy as np
import pytest
import shapely

from packer import read_figure
from packer.model.problem import pose
from packer.model.regions import regions
from packer.search.frame import first_frame
from packer.table.replies import frame_reply, tree_reply
from packer.table.server import PAGE

SAMPLES = sorted((Path(__file__).parents[2] / "samples").glob("*.toml"))
PIXELS = 500
"""Across the sheet; a difference of a pixel's breadth along an edge is then 1 in 500."""
DIFFER = 1e-3
"""Share of the pixels away from edges that may differ."""

PAINT = """
async ([source, geometry, svg, picture, pixels]) => {
  const blob = (text) => URL.createObjectURL(new Blob([text], { type: "text/javascript" }));
  const from = { "./geometry.js": blob(geometry), "./svg.js": blob(svg) };
  let text = source;
  for (const [name, address] of Object.entries(from)) text = text.replaceAll(`"${name}"`, `"${address}"`);
  const paint = await import(blob(text));
  const { tree, frame } = picture;
  const height = pixels * frame.sheet[1] / frame.sheet[0];
  const canvas = Object.assign(document.createElement("canvas"), { width: pixels, height: Math.round(height) });
  const context = canvas.getContext("2d", { willReadFrequently: true });
  context.fillStyle = "rgb(255 255 255)";
  context.fillRect(0, 0, canvas.width, canvas.height);
  for (const layer of paint.layersOf(tree, { ...frame, loose: [] }, pixels, 0)) {
    const number = layer.fill === paint.PAPER ? 255 : layer.edge;
    context.fillStyle = `rgb(${number} ${number} ${number})`;
    context.fill(new Path2D(layer.path), "nonzero");
  }
  const { data } = context.getImageData(0, 0, canvas.width, canvas.height);
  const edges = new Uint8Array(canvas.width * canvas.height);
  for (let k = 0; k < edges.length; k++) edges[k] = data[4 * k];
  let letters = "";
  for (let k = 0; k < edges.length; k += 8192) letters += String.fromCharCode(...edges.subarray(k, k + 8192));
  return { width: canvas.width, height: canvas.height, edges: btoa(letters) };
}
"""


@pytest.fixture(scope="module")
def painter(browser):
    """A page of no server: nothing but the modules that paint."""
    page = browser.new_page()
    yield page
    page.close()


def by_regions(packing, width, height):
    """(height, width) the number of the part that holds each pixel's middle, 255 for none."""
    x, y = np.meshgrid(np.arange(width) + 0.5, np.arange(height) + 0.5)
    x, y = x / width * packing.sheet.width, (1 - y / height) * packing.sheet.height
    found = np.full((height, width), 255)
    for number, region in enumerate(regions(packing).values()):
        shapely.prepare(region)
        found[shapely.contains_xy(region, x, y)] = number
    return found


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_the_page_paints_what_the_regions_are(painter, path):
    frame = first_frame(pose(read_figure(path)))
    packing = frame.packing
    sources = [PAGE[name].decode() for name in ("paint.js", "geometry.js", "svg.js")]
    picture = {"tree": tree_reply(packing.tree), "frame": frame_reply(frame, None)}
    painted = painter.evaluate(PAINT, [*sources, picture, PIXELS])
    shape = (painted["height"], painted["width"])
    edges = np.frombuffer(base64.b64decode(painted["edges"]), dtype=np.uint8).reshape(shape)
    wanted = by_regions(packing, shape[1], shape[0])
    # a pixel that an edge cuts is painted in a mixture of both sides: those are left out
    cut = np.zeros(shape, dtype=bool)
    for across, down in ((0, 1), (1, 0), (0, -1), (-1, 0)):
        cut |= wanted != np.roll(wanted, (down, across), axis=(0, 1))
    assert cut.mean() < 0.2
    assert (edges != wanted)[~cut].mean() < DIFFER
    assert len(np.unique(wanted[~cut])) > len(packing.tree.flaps) / 2  # no empty picture
