// Trees, strokes and distances: plain functions of numbers.

/** The neighbours of each node as [neighbour, edge] pairs, in the order of the edges. */
export function neighboursOf(tree) {
  const count = tree.flaps.length ? Math.max(...tree.ends.flat()) + 1 : 0;
  const around = Array.from({ length: count }, () => []);
  tree.ends.forEach(([a, b], edge) => {
    around[a].push([b, edge]);
    around[b].push([a, edge]);
  });
  return around;
}

let last = { lengths: null }; // bands of the frame before: while it is eased to they stay

/** The same as `computedBands`, which is not done again for the same lengths. */
export function bandsOf(tree, lengths, root) {
  if (last.lengths !== lengths || last.tree !== tree || last.root !== root) {
    last = { tree, lengths, root, bands: computedBands(tree, lengths, root) };
  }
  return last.bands;
}

/**
 * Every edge from the root outwards, with the tips beyond it and their distances from its two
 * ends: [{ edge, tips, outer, inner }], lengths in the figure's unit.
 */
function computedBands(tree, lengths, root) {
  const around = neighboursOf(tree);
  const order = [];
  const todo = [[root, -1, -1]];
  while (todo.length) {
    const [node, parent, edge] = todo.pop();
    order.push([node, parent, edge]);
    for (const [child, below] of around[node]) if (child !== parent) todo.push([child, node, below]);
  }
  const beyond = new Map();
  const bands = [];
  for (const [node, parent, edge] of order.toReversed()) {
    const here = beyond.get(node) ?? { tips: [], far: [] };
    if (node < tree.flaps.length) {
      here.tips.push(node);
      here.far.push(0);
    }
    if (edge < 0) continue;
    const outer = here.far.map((far) => far + lengths[edge]);
    bands.push({ edge, tips: here.tips, outer, inner: here.far });
    const above = beyond.get(parent) ?? { tips: [], far: [] };
    above.tips = above.tips.concat(here.tips);
    above.far = above.far.concat(outer);
    beyond.set(parent, above);
  }
  return bands.reverse();
}

export const distance = ([a, b], [c, d]) => Math.hypot(a - c, b - d);

/** The length of a line of points. */
export function lengthOf(line) {
  let sum = 0;
  for (let k = 1; k < line.length; k++) sum += distance(line[k - 1], line[k]);
  return sum;
}

/** How far a point lies from a line of points. */
export function gap(point, line) {
  let least = Infinity;
  for (let k = 1; k < line.length; k++) {
    const [a, b] = [line[k - 1], line[k]];
    const way = [b[0] - a[0], b[1] - a[1]];
    const size = way[0] ** 2 + way[1] ** 2 || 1;
    const share = ((point[0] - a[0]) * way[0] + (point[1] - a[1]) * way[1]) / size;
    const s = Math.min(1, Math.max(0, share));
    least = Math.min(least, distance(point, [a[0] + s * way[0], a[1] + s * way[1]]));
  }
  return least;
}

/** The few points of a stroke from which no other point lies farther than `room` (Ramer, 1972). */
export function bendsOf(points, room) {
  if (points.length < 3) return points;
  const [first, last] = [points[0], points.at(-1)];
  let far = 0;
  let at = 0;
  for (let k = 1; k < points.length - 1; k++) {
    const away = gap(points[k], [first, last]);
    if (away > far) [far, at] = [away, k];
  }
  if (far <= room) return [first, last];
  return [...bendsOf(points.slice(0, at + 1), room), ...bendsOf(points.slice(at), room).slice(1)];
}

/** The direction, as an angle, in which there is most room about a node. */
export function roomiest(angles) {
  if (!angles.length) return -Math.PI / 2;
  const sorted = angles.toSorted((a, b) => a - b);
  let best = [0, 0];
  sorted.forEach((angle, k) => {
    const next = k + 1 < sorted.length ? sorted[k + 1] : sorted[0] + 2 * Math.PI;
    if (next - angle > best[0] + 1e-9) best = [next - angle, angle + (next - angle) / 2];
  });
  return best[1];
}

export const clamp = (value, low, high) => Math.min(high, Math.max(low, value));
