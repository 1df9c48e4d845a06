// The drawing under the hand: what is under the pointer decides what a pull does.

import { DrawnDrawing } from "./drawing.js";
import { bendsOf, distance, gap, lengthOf, roomiest } from "./geometry.js";
import { onePointer } from "./one_pointer.js";
import { drawn, keyed, lengthField, pointOf, set, unitOf } from "./svg.js";
import { plain } from "./words.js";

const REACH = { mouse: 12, pen: 16, touch: 26 };
const STRAIGHT = 3; // units that a stroke may stray and still be straight
const FIRST = 60; // length of a limb drawn by key

export class DrawingView extends DrawnDrawing {
  constructor(line) {
    super(line);
    onePointer(this.svg, this);
    this.svg.addEventListener("keydown", (event) => this.key(event));
    this.svg.addEventListener("focusin", (event) => this.choose(Number(event.target.dataset?.node) || null));
    document.getElementById("new-limb").addEventListener("click", () => this.newLimb());
    document.getElementById("new-river").addEventListener("click", () => this.newRiver());
    document.getElementById("remove-limb").addEventListener("click", () => this.remove());
    document.getElementById("picture").addEventListener("toggle", () => this.draft && this.paint());
    const joint = document.getElementById("joint-name");
    joint.addEventListener("change", () => this.focus !== null && this.line.say("joint", { node: this.focus, to: joint.value }));
    const symmetry = document.getElementById("symmetry");
    symmetry.addEventListener("change", () => this.line.say("symmetry", { to: symmetry.value }));
  }

  // --- the pointer

  /** Take what is under a pointer; returns whether there is anything. */
  press(event) {
    if (!this.draft) return false;
    const point = pointOf(this.svg, event);
    const unit = unitOf(this.svg);
    const reach = (REACH[event.pointerType] ?? 14) * unit;
    this.pull = this.grip(point, unit) ?? this.onPictureGrip(point, unit) ?? this.onNode(point, reach) ?? this.onStroke(point, reach) ?? this.onMat(point);
    if (!this.pull) {
      this.choose(null);
      return false;
    }
    this.pull.begin = point;
    return true;
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
    if (!this.pictureOpen || distance(point, this.pictureGrip(unit)) > 18 * unit) return null;
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
    if (this.draft) this.paintChosen();
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
