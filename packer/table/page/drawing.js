// The drawing: limbs as strokes over a picture; what is under the pointer decides what a pull does.

import { bendsOf, distance, gap, lengthOf, roomiest } from "./geometry.js";
import { drawn, keyed, lengthField, pointOf, set, unitOf } from "./svg.js";
import { plain } from "./words.js";

const REACH = { mouse: 12, pen: 16, touch: 26 };
const LEAST = 320; // units of the mat shown on every side of its middle at least
const STRAIGHT = 3; // units that a stroke may stray and still be straight
const FIRST = 60; // length of a limb drawn by key

export class DrawingView {
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
    this.svg.addEventListener("pointerdown", (event) => this.press(event));
    this.svg.addEventListener("pointermove", (event) => this.move(event));
    this.svg.addEventListener("pointerup", (event) => this.release(event));
    this.svg.addEventListener("pointercancel", () => this.back());
    this.svg.addEventListener("keydown", (event) => this.key(event));
    this.svg.addEventListener("focusin", (event) => this.choose(Number(event.target.dataset?.node) || null));
    document.getElementById("new-limb").addEventListener("click", () => this.newLimb());
    document.getElementById("new-river").addEventListener("click", () => this.newRiver());
    document.getElementById("remove-limb").addEventListener("click", () => this.remove());
    document.getElementById("picture").addEventListener("toggle", () => this.draft && this.paint());
    const symmetry = document.getElementById("symmetry");
    symmetry.addEventListener("change", () => this.line.say("symmetry", { to: symmetry.value }));
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
    for (const { at: [x, y], twin } of this.draft.nodes) {
      take(x, y, 44, 96);
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
    this.paintGrips(unit);
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
    const labels = keyed(this.labelsLayer, this.draft.parts.map((part) => part.name), () => drawn("text", { class: "label" }));
    this.draft.parts.forEach((part, k) => {
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
      if (labels[k].textContent !== text) labels[k].textContent = text;
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
      set(nodes[k], { transform: `translate(${x.toFixed(2)} ${y.toFixed(2)}) scale(${unit})`, class: node.joint ? "node joint" : "node free", "aria-label": this.sentence(node) });
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
      group.append(drawn("circle", { class: "target", r: 16 }), shape);
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
    const [x, y] = this.pictureCorner();
    set(grip, { transform: `translate(${x.toFixed(2)} ${y.toFixed(2)}) scale(${unit})` });
  }

  gripAt(key, node, unit) {
    const off = (key === "node" ? -1 : 1) * 30 * unit;
    return [node.at[0] + off, node.at[1] - 30 * unit];
  }

  // --- the pointer

  press(event) {
    if (!this.draft || this.pull || (event.pointerType === "touch" && this.pen)) return;
    this.pen = event.pointerType === "pen";
    const point = pointOf(this.svg, event);
    const unit = unitOf(this.svg);
    const reach = (REACH[event.pointerType] ?? 14) * unit;
    this.pull = this.grip(point, unit) ?? this.onPictureGrip(point, unit) ?? this.onNode(point, reach) ?? this.onStroke(point, reach) ?? this.onMat(point);
    if (!this.pull) {
      this.choose(null);
      return;
    }
    this.pull.begin = point;
    event.preventDefault();
    this.svg.setPointerCapture(event.pointerId);
  }

  grip(point, unit) {
    const node = this.focus === null ? null : this.nodes.get(this.focus);
    if (!node) return null;
    const keys = node.joint ? ["node", "apart"] : ["node"];
    const key = keys.find((one) => distance(point, this.gripAt(one, node, unit)) < 16 * unit);
    return key ? { kind: key, node: node.number, offset: [node.at[0] - point[0], node.at[1] - point[1]] } : null;
  }

  /** A joint or tip under the pointer, or the mirror image of one: a new limb begins there. */
  onNode(point, reach) {
    let best = [reach, null, false];
    for (const node of this.draft.nodes) {
      const images = node.twin ? [[node.at, false], [[-node.at[0], node.at[1]], true]] : [[node.at, false]];
      for (const [at, mirrored] of images) {
        const away = distance(point, at);
        if (away < best[0]) best = [away, node.number, mirrored];
      }
    }
    if (best[1] === null) return null;
    return { kind: "draw", node: best[1], mirrored: best[2], path: [this.nodes.get(best[1]).at] };
  }

  onStroke(point, reach) {
    let best = [reach, null, false];
    for (const part of this.draft.parts) {
      const lines = part.twin ? [[this.line_(part), false], [this.mirrored(part), true]] : [[this.line_(part), false]];
      for (const [line, mirrored] of lines) {
        const away = gap(point, line);
        if (away < best[0]) best = [away, part, mirrored];
      }
    }
    if (!best[1]) return null;
    const [, part, mirrored] = best;
    const end = this.nodes.get(part.kind === "flap" && this.nodes.get(part.ends[1]).joint ? part.ends[0] : this.outer(part)).at;
    const at = mirrored ? [-point[0], point[1]] : point;
    return { kind: "end", part: part.name, mirrored, offset: [end[0] - at[0], end[1] - at[1]] };
  }

  /** The end of a part that has fewer limbs behind it, as the table sees it. */
  outer(part) {
    const reach = (start) => {
      const seen = new Set([start]);
      const todo = [start];
      while (todo.length) {
        const here = todo.pop();
        for (const other of this.draft.parts) {
          if (other === part || !other.ends.includes(here)) continue;
          for (const end of other.ends) if (!seen.has(end)) { seen.add(end); todo.push(end); }
        }
      }
      return seen;
    };
    if (part.pair) return part.ends[1];
    const [near, far] = part.ends.map(reach);
    if (part.ends.some((end) => this.nodes.get(end).twin)) {
      return [...near].some((end) => !this.nodes.get(end).twin) ? part.ends[1] : part.ends[0];
    }
    return near.size >= far.size ? part.ends[1] : part.ends[0];
  }

  /** The grip at the picture's corner, while its fields are open. */
  onPictureGrip(point, unit) {
    if (!this.pictureOpen || distance(point, this.pictureCorner()) > 18 * unit) return null;
    return { kind: "stretch", picture: this.draft.picture };
  }

  onMat(point) {
    if (this.pictureOpen && distance(point, this.draft.picture.at) < distance(this.pictureCorner(), this.draft.picture.at)) {
      return { kind: "picture", picture: this.draft.picture };
    }
    return this.draft.parts.length ? null : { kind: "draw", node: null, mirrored: false, path: [point] };
  }

  move(event) {
    if (!this.pull) return;
    const { pull } = this;
    const unit = unitOf(this.svg);
    for (const one of event.getCoalescedEvents?.() ?? [event]) pull.at = this.own(pointOf(this.svg, one), pull, true);
    pull.at ??= this.own(pointOf(this.svg, event), pull, true);
    if (!pull.moved && distance(pointOf(this.svg, event), pull.begin) < 5 * unit) return;
    pull.moved = true;
    if (pull.kind === "draw" || pull.kind === "apart") this.preview(unit);
    else if (pull.picture) this.line.say("picture", { ...this.pulledPicture(), phase: "move" });
    else if (pull.kind === "end") this.line.say("end", { part: pull.part, at: this.withOffset(pull), phase: "move" });
    else this.line.say("node", { node: pull.node, at: this.withOffset(pull), phase: "move" });
  }

  /** A point on the side of the mirror line on which the drawing is written. */
  own(point, pull, note) {
    const at = pull.mirrored ? [-point[0], point[1]] : point;
    if (note && pull.kind === "draw") pull.path.push(at);
    return at;
  }

  withOffset({ at, offset }) {
    return [at[0] + offset[0], at[1] + offset[1]];
  }

  preview(unit) {
    const { pull } = this;
    const line = pull.kind === "draw" ? bendsOf(pull.path, STRAIGHT * unit) : [this.nodes.get(pull.node).at, this.withOffset(pull)];
    const [path, text] = keyed(this.previewLayer, ["path", "text"], (key) => (key === "path" ? drawn("path", { class: "preview" }) : drawn("text", { class: "label" })));
    set(path, { d: `M${line.map((p) => p.join(" ")).join("L")}`, "stroke-width": 3 * unit, "stroke-dasharray": `${8 * unit} ${5 * unit}` });
    const one = this.draft.parts.find((part) => part.drawn);
    const per = one ? one.drawn / lengthOf(this.line_(one)) : 1 / 60;
    const end = line.at(-1);
    set(text, { x: end[0] + 14 * unit, y: end[1] - 10 * unit, "font-size": 13 * unit, "stroke-width": 3 * unit });
    text.textContent = plain(lengthOf(line) * per, 3);
  }

  release() {
    const { pull } = this;
    this.pen = false;
    if (!pull) return;
    this.pull = null;
    this.previewLayer.replaceChildren();
    const unit = unitOf(this.svg);
    if (!pull.moved) {
      if (pull.node) this.nodesLayer.querySelector(`[data-node="${pull.node}"]`)?.focus({ preventScroll: true });
      this.choose(pull.node ?? null);
    } else if (pull.picture) this.line.say("picture", { ...this.pulledPicture(pull), phase: "drop" });
    else if (pull.kind === "draw") {
      this.line.say("draw", { start: pull.node, path: bendsOf(pull.path, STRAIGHT * unit) });
      this.expects = true;
    } else if (pull.kind === "apart") {
      this.line.say("apart", { node: pull.node, at: this.withOffset(pull) });
      this.expects = true;
    } else if (pull.kind === "end") this.line.say("end", { part: pull.part, at: this.withOffset(pull), phase: "drop" });
    else this.line.say("node", { node: pull.node, at: this.withOffset(pull), phase: "drop" });
  }

  back() {
    if (!this.pull) return false;
    const live = this.pull.kind !== "draw" && this.pull.kind !== "apart";
    this.pull = null;
    this.previewLayer.replaceChildren();
    if (live) this.line.say("back");
    this.paint();
    return true;
  }

  // --- the keyboard

  choose(number) {
    if (this.focus === number) return;
    this.focus = number;
    if (this.draft) this.paintGrips(unitOf(this.svg));
  }

  key(event) {
    if (event.ctrlKey || event.metaKey || event.altKey || !this.draft) return;
    const node = this.nodes.get(this.focus);
    const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    const key = event.key.toLowerCase();
    if (way && node) {
      const step = (event.shiftKey ? 0.001 : 0.01) * (this.box[2] - this.box[0]);
      this.line.say("node", { node: node.number, at: [node.at[0] + way[0] * step, node.at[1] + way[1] * step], phase: "drop" });
    } else if (key === "n") this.newLimb();
    else if (key === "r") this.newRiver();
    else if (key === "delete" || key === "backspace") this.remove();
    else if (key === "enter" && node && !node.joint) {
      const part = this.draft.parts.find((one) => one.ends.includes(node.number));
      lengthField(part?.name)?.select();
    } else return;
    event.preventDefault();
  }

  /** Draw a limb from the node in focus to where there is most room, and take its tip in hand. */
  newLimb() {
    const node = this.nodes.get(this.focus) ?? this.draft.nodes[0];
    this.expects = true;
    if (!node) {
      this.line.say("draw", { start: null, path: [[0, 0], [0, -FIRST]] });
      return;
    }
    const angles = [];
    for (const part of this.draft.parts) {
      const lines = [this.line_(part), ...(part.twin ? [this.mirrored(part)] : [])];
      for (const line of lines) {
        for (const [a, b] of [[line[0], line[1]], [line.at(-1), line.at(-2)]]) {
          if (distance(a, node.at) < 1e-6) angles.push(Math.atan2(b[1] - a[1], b[0] - a[0]));
        }
      }
    }
    let angle = roomiest(angles);
    if (this.draft.symmetry !== "none" && !node.twin && Math.abs(Math.cos(angle)) > 0.2 && Math.cos(angle) > 0) angle = Math.PI - angle;
    const end = [node.at[0] + FIRST * Math.cos(angle), node.at[1] + FIRST * Math.sin(angle)];
    this.line.say("draw", { start: node.number, path: [node.at, end] });
  }

  newRiver() {
    const node = this.nodes.get(this.focus);
    if (!node?.joint) return;
    this.expects = true;
    this.line.say("apart", { node: node.number, at: [node.at[0], node.at[1] + 0.7 * FIRST] });
  }

  remove() {
    const node = this.nodes.get(this.focus);
    const part = node && this.draft.parts.find((one) => one.ends.includes(node.number) && (!node.joint || one.ends[1] === node.number));
    if (part) this.line.say("remove", { part: part.name });
  }
}
