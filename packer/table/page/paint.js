// The painting of a packing, as on the plates: rivers from the root outwards, each a union of discs
// in its colour. What hangs on its far joint covers the rest of them. Outlines are larger unions behind.

import { bandsOf } from "./geometry.js";
import { drawn, keyed, set } from "./svg.js";

const RIVER = 0.55; // strengths of the fills, those of the plates
const DISC = 0.22;
const LOOSE = 0.1;
export const INK = "#222222";
export const PAPER = "#FFFFFF";

/** A colour laid on white paper with a strength, as one that covers. */
export function mixed(colour, strength) {
  const parts = [1, 3, 5].map((k) => parseInt(colour.slice(k, k + 2), 16));
  return `rgb(${parts.map((c) => Math.round(c * strength + 255 * (1 - strength))).join(" ")})`;
}

/** The path of a union of discs (even where they overlap, by the rule of not being zero). */
function unionPath(centres, radii, grow) {
  let path = "";
  centres.forEach(([x, y], k) => {
    const r = radii[k] + grow;
    if (r <= 0) return;
    const [radius, across] = [r.toFixed(3), (2 * r).toFixed(3)];
    const half = `a${radius} ${radius} 0 1 1`;
    path += `M${(x - r).toFixed(3)} ${y.toFixed(3)}${half} ${across} 0${half} -${across} 0z`;
  });
  return path;
}

/**
 * What to paint, bottom first: [{ key, edge, fill, path }] in units of which the sheet is
 * `width` across, y down.
 *
 * `line` is the width of outlines; with 0 there are none. `hollow` are flaps drawn without a fill.
 */
export function layersOf(tree, frame, width, line, hollow = []) {
  const factor = width / frame.sheet[0];
  const height = frame.sheet[1] * factor;
  const at = frame.tips.map(([x, y]) => [x * factor, height - y * factor]);
  const layers = [];
  const dashed = (tip) => frame.loose.includes(tip) || hollow.includes(tip);
  for (const { edge, tips, outer, inner } of bandsOf(tree, frame.lengths, frame.root)) {
    const centres = tips.map((tip) => at[tip]);
    const colour = tree.colours[edge];
    const size = frame.scale * factor;
    const flap = edge < tree.flaps.length;
    const put = (key, fill, radii, grow) =>
      layers.push({ key: `${edge} ${key}`, edge, fill, path: unionPath(centres, radii.map((r) => r * size), grow) });
    if (flap && dashed(edge)) {
      const fill = hollow.includes(edge) ? PAPER : mixed(colour, LOOSE);
      layers.push({ key: `${edge} dashed`, edge, fill, line: colour, path: unionPath(centres, [outer[0] * size], 0) });
      continue;
    }
    if (line) put("edge", colour, outer, line / 2);
    put("fill", mixed(colour, flap ? DISC : RIVER), outer, -line / 2);
    // where a dashed flap hangs on the river, its outline shows between the dashes
    const bare = !flap && line && tips.some((tip, k) => dashed(tip) && inner[k] === frame.lengths[tip]);
    if (bare) put("inner edge", colour, inner, line / 2);
  }
  return layers;
}

/** Paint the discs and rivers of a frame into a group. */
export function paintAreas(group, tree, frame, width, line, hollow = []) {
  const layers = layersOf(tree, frame, width, line, hollow);
  const paths = keyed(group, layers.map((layer) => layer.key), () => drawn("path"));
  layers.forEach((layer, k) => {
    set(paths[k], {
      d: layer.path,
      fill: layer.fill,
      stroke: layer.line ?? null,
      "stroke-width": layer.line ? Math.max(line, 0.5) : null,
      "stroke-dasharray": layer.line ? `${5 * line} ${3 * line}` : null,
    });
  });
}

/** The active paths of a frame as one path. */
export function activePath(frame, width) {
  const factor = width / frame.sheet[0];
  const height = frame.sheet[1] * factor;
  const put = (tip) => `${(frame.tips[tip][0] * factor).toFixed(3)} ${(height - frame.tips[tip][1] * factor).toFixed(3)}`;
  return frame.active.map(([a, b]) => `M${put(a)}L${put(b)}`).join("");
}

/** A small picture of a packing for a card. */
export function smallPicture(tree, frame, title) {
  const width = 100;
  const height = (100 * frame.sheet[1]) / frame.sheet[0];
  const svg = drawn("svg", { viewBox: `0 0 ${width} ${height}`, role: "img", "aria-label": title });
  svg.append(drawn("rect", { width, height, fill: PAPER }));
  const areas = drawn("g");
  svg.append(areas);
  paintAreas(areas, tree, frame, width, 0.6);
  svg.append(drawn("path", { d: activePath(frame, width), stroke: INK, "stroke-width": 0.5, fill: "none" }));
  const factor = width / frame.sheet[0];
  frame.tips.forEach(([x, y], tip) => {
    const loose = frame.loose.includes(tip);
    const spot = { cx: x * factor, cy: height - y * factor, r: loose ? 0.8 : 0.9 };
    svg.append(drawn("circle", { ...spot, fill: loose ? PAPER : INK, stroke: INK, "stroke-width": 0.3 }));
  });
  return svg;
}
