// The drawing as it is shown: limbs as strokes over a picture, with joints, tips and grips.

import { clamp, distance } from "./geometry.js";
import { drawn, fill, keyed, set, unitOf, write } from "./svg.js";
import { plain } from "./words.js";

const LEAST = 320; // units of the mat shown on every side of its middle at least
const CROWDED = 26; // parts, times units of the mat in a pixel, above which not all are named

export class DrawnDrawing {
  constructor(line) {
    this.line = line;
    this.svg = document.getElementById("mat");
    this.pull = null;
    this.focus = null; // number of the node in focus
    this.expects = false; // whether the next drawing brings a node to focus
    for (const name of ["grid", "picture", "axis", "twins", "parts", "preview", "labels", "nodes", "grips", "pictureGrip"]) {
      const group = drawn("g", { id: `mat-${name}` });
      this.svg.append(group);
      this[`${name}Layer`] = group;
    }
  }

  show(draft, picture) {
    const known = new Set(this.draft?.nodes.map((node) => node.number));
    this.draft = draft;
    this.picture = picture;
    this.nodes = new Map(draft.nodes.map((node) => [node.number, node]));
    if (!this.nodes.has(this.focus)) this.focus = null;
    if (!this.pull) this.fit();
    this.paint();
    document.getElementById("symmetry").value = draft.symmetry;
    document.getElementById("draft-sentence").textContent = draft.sentence;
    if (this.expects) {
      const fresh = draft.nodes.filter((node) => !known.has(node.number)).at(-1);
      if (fresh) this.nodesLayer.querySelector(`[data-node="${fresh.number}"]`)?.focus();
      this.expects = false;
    }
  }

  /** Show all that is drawn, and some mat about it. */
  fit() {
    let [left, top, right, bottom] = [-LEAST, -LEAST, LEAST, LEAST];
    const take = (x, y, room, aside = room) => {
      [left, right] = [Math.min(left, x - aside), Math.max(right, x + aside)];
      [top, bottom] = [Math.min(top, y - room), Math.max(bottom, y + room)];
    };
    const aside = 40 + 56 * Math.max(1, (2 * LEAST) / (this.svg.clientWidth || 2 * LEAST)); // for names
    for (const { at: [x, y], twin } of this.draft.nodes) {
      take(x, y, 44, aside);
      if (twin) take(-x, y, 44);
    }
    if (this.picture) {
      const [w, h] = this.picture.size.map((side) => (side * this.draft.picture.scale) / 2);
      const [x, y] = this.draft.picture.at;
      take(x - w, y - h, 0);
      take(x + w, y + h, 0);
    }
    set(this.svg, { viewBox: `${left} ${top} ${right - left} ${bottom - top}` });
    this.box = [left, top, right, bottom];
  }

  line_(part) {
    return [this.nodes.get(part.ends[0]).at, ...part.bends, this.nodes.get(part.ends[1]).at];
  }

  /** The line of a part's twin: mirrored, but for an end that has no twin of its own. */
  mirrored(part) {
    const line = this.line_(part);
    return line.map(([x, y], k) => {
      const end = k === 0 ? part.ends[0] : k === line.length - 1 ? part.ends[1] : null;
      return end !== null && !this.nodes.get(end).twin ? [x, y] : [-x, y];
    });
  }

  paint() {
    const unit = unitOf(this.svg);
    const [left, top, right, bottom] = this.box;
    this.paintGrid(unit);
    this.paintPicture();
    const axis = keyed(this.axisLayer, this.draft.symmetry === "none" ? [] : ["axis"], () => drawn("path", { class: "axis" }));
    if (axis[0]) set(axis[0], { d: `M0 ${top}V${bottom}`, "stroke-width": unit, "stroke-dasharray": `${10 * unit} ${4 * unit} ${2 * unit} ${4 * unit}` });
    const path = (line) => `M${line.map((p) => p.map((c) => c.toFixed(2)).join(" ")).join("L")}`;
    const twins = this.draft.parts.filter((part) => part.twin);
    const shades = keyed(this.twinsLayer, twins.map((part) => part.name), () => drawn("path", { class: "stroke twin" }));
    twins.forEach((part, k) => set(shades[k], { d: path(this.mirrored(part)), stroke: part.colour, "stroke-width": (part.kind === "flap" ? 3 : 6) * unit }));
    const strokes = keyed(this.partsLayer, this.draft.parts.map((part) => part.name), (name) => {
      const stroke = drawn("path", { class: "stroke" });
      stroke.dataset.part = name;
      return stroke;
    });
    this.draft.parts.forEach((part, k) => set(strokes[k], { d: path(this.line_(part)), stroke: part.colour, "stroke-width": (part.kind === "flap" ? 3 : 6) * unit }));
    this.paintLabels(unit, [left, right]);
    this.paintNodes(unit);
    this.paintChosen();
  }

  /** What belongs to the joint or tip in focus: its grips, and the field of its name. */
  paintChosen() {
    const unit = unitOf(this.svg);
    this.paintGrips(unit);
    for (const group of this.nodesLayer.children) group.classList.toggle("chosen", Number(group.dataset.node) === this.focus);
    this.paintLabels(unit, [this.box[0], this.box[2]]);
    const node = this.focus === null ? null : this.nodes.get(this.focus);
    document.getElementById("joint-field").hidden = !node?.joint;
    fill(document.getElementById("joint-name"), node?.joint ?? "");
  }

  paintGrid(unit) {
    const [left, top, right, bottom] = this.box;
    const step = 40;
    let d = "";
    for (let x = Math.ceil(left / step) * step; x < right; x += step) d += `M${x} ${top}V${bottom}`;
    for (let y = Math.ceil(top / step) * step; y < bottom; y += step) d += `M${left} ${y}H${right}`;
    const [lines] = keyed(this.gridLayer, ["lines"], () => drawn("path", { class: "grid" }));
    set(lines, { d, "stroke-width": 0.8 * unit });
  }

  paintPicture() {
    const images = keyed(this.pictureLayer, this.picture ? [this.picture.address] : [], () => drawn("image"));
    if (!images[0]) return;
    const { at: [x, y], scale, turn, strength } = this.draft.picture;
    const [w, h] = this.picture.size;
    set(images[0], { href: this.picture.address, width: w, height: h, opacity: strength, transform: `translate(${x} ${y}) rotate(${turn}) scale(${scale}) translate(${-w / 2} ${-h / 2})` });
  }

  get pictureOpen() {
    return Boolean(this.picture && this.draft.picture && document.getElementById("picture").open);
  }

  /** Where the lower right corner of the picture lies. */
  pictureCorner() {
    const { at, scale, turn } = this.draft.picture;
    const [w, h] = this.picture.size.map((side) => (side * scale) / 2);
    const angle = (turn * Math.PI) / 180;
    return [at[0] + w * Math.cos(angle) - h * Math.sin(angle), at[1] + w * Math.sin(angle) + h * Math.cos(angle)];
  }

  /** Where its grip is: at that corner, or where the mat ends if the corner lies beyond. */
  pictureGrip(unit) {
    const [left, top, right, bottom] = this.box;
    const [x, y] = this.pictureCorner();
    const room = 18 * unit;
    return [clamp(x, left + room, right - room), clamp(y, top + room, bottom - room)];
  }

  /** The picture moved with the pull, or stretched and turned about its middle by its corner. */
  pulledPicture(pull = this.pull) {
    const { at, scale, turn, strength } = pull.picture;
    const [a, b] = [pull.begin, pull.at];
    if (pull.kind === "picture") return { at: [at[0] + b[0] - a[0], at[1] + b[1] - a[1]], scale, turn, strength };
    const angle = ([x, y]) => (Math.atan2(y - at[1], x - at[0]) * 180) / Math.PI;
    const turned = ((turn + angle(b) - angle(a) + 540) % 360) - 180;
    return { at, scale: Math.max(1e-3, (scale * distance(b, at)) / (distance(a, at) || 1)), turn: turned, strength };
  }

  paintLabels(unit, [left, right]) {
    // in a small window only what is in hand is named; the parts below name all
    const crowded = this.draft.parts.length * unit > CROWDED;
    const named = this.draft.parts.filter((part) => !crowded || part.ends.includes(this.focus));
    const labels = keyed(this.labelsLayer, named.map((part) => part.name), () => drawn("text", { class: "label" }));
    named.forEach((part, k) => {
      const line = this.line_(part);
      const tip = part.kind === "flap";
      const free = this.nodes.get(part.ends[1]).joint ? line[0] : line.at(-1);
      const from = this.nodes.get(part.ends[1]).joint ? line.at(-1) : line[0];
      let at = line[Math.floor(line.length / 2)];
      if (line.length === 2) at = [(line[0][0] + line[1][0]) / 2, (line[0][1] + line[1][1]) / 2];
      let anchor = "start";
      if (tip) {
        const size = distance(from, free) || 1;
        const off = 12 * unit;
        at = [free[0] + ((free[0] - from[0]) / size) * off, free[1] + ((free[1] - from[1]) / size) * off + 4 * unit];
        anchor = free[0] < from[0] - 0.3 * size ? "end" : free[0] > from[0] + 0.3 * size ? "start" : "middle";
        if (anchor === "middle") at[1] += free[1] > from[1] ? 8 * unit : 0;
      } else at = [at[0] + 8 * unit, at[1] - 4 * unit];
      const strays = part.asked !== null && Math.abs(part.asked / part.drawn - 1) > 0.005;
      const text = strays ? `${part.name}: drawn ${plain(part.drawn, 3)}, asked ${plain(part.asked)}` : `${part.name} ${plain(part.asked ?? part.drawn, 3)}`;
      const wide = text.length * 6.2 * unit;
      if (anchor === "end" && at[0] - wide < left) [anchor, at[0]] = ["start", left + 4 * unit];
      if (anchor === "start" && at[0] + wide > right) [anchor, at[0]] = ["end", right - 4 * unit];
      set(labels[k], { x: at[0].toFixed(1), y: at[1].toFixed(1), "text-anchor": anchor, "font-size": 12 * unit, "stroke-width": 3 * unit });
      write(labels[k], text);
    });
  }

  paintNodes(unit) {
    const nodes = keyed(this.nodesLayer, this.draft.nodes.map((node) => node.number), (number) => {
      const group = drawn("g", { role: "button", tabindex: 0 });
      group.dataset.node = number;
      group.append(drawn("circle", { class: "target", r: 22 }), drawn("circle", { class: "ring", r: 11 }), drawn("circle", { class: "spot", r: 5.5 }));
      return group;
    });
    this.draft.nodes.forEach((node, k) => {
      const [x, y] = node.at;
      set(nodes[k], { transform: `translate(${x.toFixed(2)} ${y.toFixed(2)}) scale(${unit})`, class: `node ${node.joint ? "joint" : "free"}${node.number === this.focus ? " chosen" : ""}`, "aria-label": this.sentence(node) });
    });
  }

  sentence(node) {
    const here = this.draft.parts.filter((part) => part.ends.includes(node.number));
    const length = (part) => plain(part.asked ?? part.drawn);
    if (node.joint) return `${node.joint}, joint of ${here.map((part) => part.name).join(", ")}`;
    return here.length ? `${here[0].name}, tip, length ${length(here[0])}${here[0].twin ? ", with a twin" : ""}` : "tip";
  }

  /** The two grips of the joint in focus: a ring that moves it, a diamond that pulls it apart. */
  paintGrips(unit) {
    const node = this.focus === null ? null : this.nodes.get(this.focus);
    const keys = !node || this.pull ? [] : node.joint ? ["node", "apart"] : ["node"];
    this.paintPictureGrip(unit);
    const grips = keyed(this.gripsLayer, keys, (key) => {
      const group = drawn("g", { class: `grip ${key}`, "aria-hidden": "true" });
      const shape = key === "node" ? drawn("circle", { r: 7 }) : drawn("path", { d: "M0 -9L9 0L0 9L-9 0Z" });
      const toJoint = drawn("path", { class: "to-joint", d: `M0 0L${key === "node" ? 30 : -30} 30` }); // to its joint
      group.append(toJoint, drawn("circle", { class: "target", r: 16 }), shape);
      group.append(drawn("title"));
      group.lastChild.textContent = key === "node" ? "Pull to move" : "Pull apart: a river in between";
      return group;
    });
    grips.forEach((grip, k) => {
      const at = this.gripAt(keys[k], node, unit);
      set(grip, { transform: `translate(${at[0].toFixed(2)} ${at[1].toFixed(2)}) scale(${unit})` });
    });
  }

  paintPictureGrip(unit) {
    const [grip] = keyed(this.pictureGripLayer, this.pictureOpen ? ["corner"] : [], () => {
      const group = drawn("g", { class: "grip", "aria-hidden": "true" });
      group.append(drawn("circle", { class: "target", r: 18 }), drawn("circle", { r: 8 }), drawn("title"));
      group.lastChild.textContent = "Pull to stretch and turn the picture";
      return group;
    });
    if (!grip) return;
    const [x, y] = this.pictureGrip(unit);
    set(grip, { transform: `translate(${x.toFixed(2)} ${y.toFixed(2)}) scale(${unit})` });
  }

  gripAt(key, node, unit) {
    const off = (key === "node" ? -1 : 1) * 30 * unit;
    return [node.at[0] + off, node.at[1] - 30 * unit];
  }
}
