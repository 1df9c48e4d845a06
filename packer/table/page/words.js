// Numbers and parts as they are written on the page.

export const percent = (share, digits = 1) => `${(100 * share).toFixed(digits)} %`;

export function signed(share, digits = 1) {
  if (Math.abs(share) < 5e-6) return "no change";
  const text = (100 * share).toFixed(digits);
  return `${share >= 0 && !text.startsWith("-") ? "+" : ""}${text} %`;
}

export const plain = (number, digits = 4) => String(Number(number.toPrecision(digits)));

/** A part's name as it is said: the ends of twins as words. */
export const said = (name) => name.replace(/\.(left|right)$/, " $1");

/** Whether a tip lies in a corner, on an edge or in the middle. */
export function kindOf([x, y], [width, height]) {
  const room = 1e-6 * Math.min(width, height);
  const upright = Math.min(x, width - x) <= room;
  const level = Math.min(y, height - y) <= room;
  return upright && level ? "corner" : upright || level ? "edge" : "middle";
}

/** What a place of a flap is called; empty for anywhere. */
export function placeText(place) {
  return place.map((one) => (Array.isArray(one) ? "pinned" : one)).join(", ");
}

/** What headroom means, in words that say no more than is proven. */
export function headroomText(headroom) {
  if (headroom === null) return "not known yet";
  if (headroom < 5e-7) return "none: proven best";
  return headroom < 5e-4 ? "less than 0.1 %" : `at most ${percent(headroom)}`;
}

/** A sentence of a tip for a screen reader; it begins with the part's name as written. */
export function tipSentence(tree, frame, draft, tip) {
  const name = tree.flaps[tip];
  const words = [said(name), kindOf(frame.tips[tip], frame.sheet), plain(frame.lengths[tip])];
  if (frame.loose.includes(tip)) words.push("loose");
  const cost = costOf(frame, tip);
  if (cost > 5e-5) words.push(`a tenth more costs ${percent(cost, 2)}`);
  const part = draft?.parts.find((p) => p.name === tree.written[tip]);
  if (part?.place.length) words.push(`bound to ${placeText(part.place)}`);
  return words.join(", ");
}

/** The share of the scale that a tenth more of an edge's length costs. */
export const costOf = (frame, edge) => (-0.1 * frame.costs[edge] * frame.lengths[edge]) / frame.scale;

/** The cost of a part as written: that of both twins where it is a pair. */
export function costOfPart(tree, frame, name) {
  let sum = 0;
  tree.written.forEach((written, edge) => {
    if (written === name) sum += costOf(frame, edge);
  });
  return sum;
}
