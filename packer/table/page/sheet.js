// The sheet: the packing as it is, tips that are pulled, and its corner.

import { clamp, distance } from "./geometry.js";
import { onePointer } from "./one_pointer.js";
import { INK, PAPER, activePath, paintAreas } from "./paint.js";
import { drawn, fill, keyed, lengthField, pointOf, set, unitOf, write } from "./svg.js";
import { kindOf, plain, said, tipSentence } from "./words.js";

const WIDTH = 1000; // units of the picture across the larger side of the sheet
const EASE = 110; // ms from one frame to the next while somebody pulls
const FIRST = 16; // ms of them that are over in the first picture, so that it shows an answer
const SLOW = 12; // ms of one picture above which it is not eased to
const LATE = 26; // ms between two pictures above which the rest of the way is not eased
const REACH = { mouse: 16, pen: 20, touch: 30 }; // px about a tip in which a pointer takes it
const SNAP = 10; // px from an edge within which a pulled tip is put on it
const RATIOS = [0.5, 2 / 3, Math.SQRT1_2, 1, Math.SQRT2, 1.5, 2];

/** Whether two frames of as many tips lie alike, so that there is no way between them. */
function liesAs(one, other) {
  const numbers = (frame) => [...frame.sheet, frame.scale, ...frame.tips.flat()];
  const others = numbers(other);
  return numbers(one).every((number, k) => number === others[k]);
}

export class SheetView {
  constructor(line) {
    this.line = line;
    this.svg = document.getElementById("paper");
    this.held = null; // { tip, at } while a tip is pulled
    this.chosen = null; // name of the tip in hand
    this.ratio = null;
    this.easing = false; // while the picture is on its way to the newest frame
    this.came = null; // called when it has come there
    this.layers = ["shadow", "white", "areas", "active", "axis", "border", "names", "tips"].map((name) => {
      const group = drawn("g", { id: `paper-${name}` });
      this.svg.append(group);
      return [name, group];
    });
    this.layer = Object.fromEntries(this.layers);
    this.corner = drawn("g", { class: "corner", "aria-hidden": "true" });
    this.corner.append(drawn("circle", { class: "target", r: 22 }), drawn("path", { d: "M-9 3 L3 -9 M-3 5 L5 -3" }));
    this.svg.append(this.corner);
    onePointer(this.svg, this);
    this.svg.addEventListener("keydown", (event) => this.key(event));
    this.svg.addEventListener("focusin", (event) => this.choose(event.target.dataset?.tip));
    this.svg.addEventListener("focusout", () => this.dropKeyed());
    this.wire();
  }

  wire() {
    const pin = (to) => this.chosen && this.line.say("pin", { tip: this.chosen, to });
    document.getElementById("pin-here").addEventListener("click", () => pin("here"));
    document.getElementById("pin-edge").addEventListener("click", () => pin(this.nearest()));
    document.getElementById("unpin").addEventListener("click", () => pin(null));
    const size = document.getElementById("size");
    size.addEventListener("change", () => this.line.say("sheet", { to: size.value }));
    const whole = document.getElementById("whole");
    whole.addEventListener("change", () => this.line.say("whole", { to: whole.checked }));
  }

  /** Show another frame; while somebody pulls it is eased to. */
  show(tree, frame, draft) {
    const before = this.shown;
    this.tree = tree;
    this.draft = draft;
    this.target = frame;
    const still = matchMedia("(prefers-reduced-motion: reduce)").matches;
    // where one picture takes longer than a frame of the screen, easing would only be late
    const slow = this.painting > SLOW;
    const like = before && this.shownTree === tree && before.tips.length === frame.tips.length;
    this.shownTree = tree;
    if (!like || still || slow || liesAs(before, frame)) {
      this.shown = this.from = frame; // an easing under way has nothing left to do
      this.paint();
    } else {
      this.from = before;
      this.since = performance.now() - FIRST;
      if (!this.easing) this.ease();
    }
    this.buttons();
    this.facts();
  }

  ease(last = performance.now()) {
    this.easing = true;
    const now = performance.now();
    const share = now - last > LATE ? 1 : clamp((now - this.since) / EASE, 0, 1);
    const s = share * (2 - share);
    const [a, b] = [this.from, this.target];
    const between = (x, y) => x + s * (y - x);
    this.shown = share < 1 ? {
      ...b,
      sheet: b.sheet.map((side, k) => between(a.sheet[k], side)),
      scale: between(a.scale, b.scale),
      tips: b.tips.map((tip, k) => tip.map((c, axis) => between(a.tips[k][axis], c))),
    } : b;
    this.paint();
    if (share < 1) requestAnimationFrame(() => this.ease(now));
    else {
      this.easing = false;
      this.came?.();
    }
  }

  /** Units of the picture for one of the sheet. */
  get factor() {
    return WIDTH / Math.max(...(this.ratio?.sheet ?? this.shown.sheet));
  }

  put([x, y]) {
    return [x * this.factor, (this.shown.sheet[1] - y) * this.factor];
  }

  taken([x, y]) {
    return [x / this.factor, this.shown.sheet[1] - y / this.factor];
  }

  paint() {
    const began = performance.now();
    this.paintAll();
    this.painting = performance.now() - began;
  }

  paintAll() {
    const frame = this.withHeld(this.shown);
    const [width, height] = frame.sheet.map((side) => side * this.factor);
    if (!this.ratio) set(this.svg, { viewBox: `-24 -24 ${width + 48} ${height + 48}` });
    const unit = unitOf(this.svg);
    set(this.one("shadow", "rect"), { x: 5, y: 7, width, height, class: "shadow" });
    set(this.one("white", "rect"), { width, height, fill: PAPER });
    set(this.one("border", "rect"), { width, height, fill: "none", stroke: INK, "stroke-width": 2 * unit });
    if (!this.clip) {
      this.clip = drawn("clipPath", { id: "paper-clip" });
      this.clip.append(drawn("rect"));
      this.svg.prepend(this.clip);
      set(this.layer.areas, { "clip-path": "url(#paper-clip)" });
    }
    set(this.clip.firstChild, { width, height });
    const tip = this.held ? this.tree.flaps.indexOf(this.held.tip) : -1;
    const hollow = frame.crowded && tip >= 0 ? [tip, this.tree.twin[tip]] : [];
    paintAreas(this.layer.areas, this.tree, frame, width, 1.2 * unit, hollow);
    set(this.one("active", "path"), { d: activePath(frame, width), stroke: INK, "stroke-width": 1.1 * unit, fill: "none" });
    const axis = { book: `M${width / 2} 0V${height}`, diagonal: `M0 ${height}L${width} 0` }[frame.symmetry] ?? "";
    set(this.one("axis", "path"), { d: axis, class: "axis", "stroke-width": unit, "stroke-dasharray": `${10 * unit} ${4 * unit} ${2 * unit} ${4 * unit}` });
    set(this.corner, { transform: `translate(${width} ${height}) scale(${unit})` });
    this.paintTips(frame, unit);
    this.paintNames(frame, unit);
  }

  one(layer, kind) {
    const group = this.layer[layer];
    if (!group.firstChild) group.append(drawn(kind));
    return group.firstChild;
  }

  /** The frame with a pulled tip where the pointer is. */
  withHeld(frame) {
    if (!this.held) return frame;
    const tip = this.tree.flaps.indexOf(this.held.tip);
    if (tip < 0 || this.held.keyed) return frame;
    const tips = [...frame.tips];
    tips[tip] = this.held.at;
    return { ...frame, tips };
  }

  paintTips(frame, unit) {
    const tips = keyed(this.layer.tips, this.tree.flaps, (name) => {
      const group = drawn("g", { role: "button", tabindex: 0, class: "tip" });
      group.dataset.tip = name;
      group.append(drawn("circle", { class: "target", r: 22 }), drawn("circle", { class: "ring", r: 11 }), drawn("circle", { class: "spot", r: 4.5 }), drawn("path", { class: "pin", d: "M0 -5V-19M-5 -19H5M-4 -5H4" }));
      return group;
    });
    tips.forEach((group, tip) => {
      const [x, y] = this.put(frame.tips[tip]);
      const part = this.draft?.parts.find((p) => p.name === this.tree.written[tip]);
      const classes = ["tip"];
      if (frame.loose.includes(tip)) classes.push("loose");
      if (part?.place.length) classes.push("pinned");
      if (this.held?.tip === this.tree.flaps[tip]) classes.push("held");
      if (this.chosen === this.tree.flaps[tip]) classes.push("chosen");
      set(group, { transform: `translate(${x.toFixed(2)} ${y.toFixed(2)}) scale(${unit})`, class: classes.join(" ") });
    });
  }

  paintNames(frame, unit) {
    const shown = this.tree.flaps.map((name, tip) => ({ name, tip }))
      .filter(({ tip }) => frame.lengths[tip] * frame.scale * this.factor > 22 * unit && !this.tree.flaps[tip].endsWith(".right"));
    const labels = keyed(this.layer.names, shown.map(({ name }) => name), () => drawn("text", { class: "label" }));
    const [width, height] = frame.sheet.map((side) => side * this.factor);
    shown.forEach(({ name, tip }, k) => {
      const [x, y] = this.put(frame.tips[tip]);
      const text = this.tree.written[tip];
      const half = 3.4 * text.length * unit;
      const below = y + 19 * unit < height - 2 * unit;
      const across = clamp(x, half + 4 * unit, Math.max(half + 4 * unit, width - half - 4 * unit));
      const down = below ? y + 19 * unit : y - 11 * unit;
      // moved as a whole, so that the browser need not set the letters again
      set(labels[k], {
        transform: `translate(${across.toFixed(2)} ${down.toFixed(2)})`,
        "font-size": 12 * unit,
        "stroke-width": 3 * unit,
      });
      write(labels[k], text);
    });
  }

  /** Give every tip its sentence; not while somebody pulls, or a screen reader would never rest. */
  buttons() {
    if (this.held && !this.held.keyed) return;
    for (const group of this.layer.tips.children) {
      const tip = this.tree.flaps.indexOf(group.dataset.tip);
      if (tip >= 0) set(group, { "aria-label": tipSentence(this.tree, this.target, this.draft, tip) });
    }
  }

  // --- the pointer

  /** Take what is under a pointer; returns whether there is anything. */
  press(event) {
    if (!this.tree) return false;
    this.dropKeyed();
    const point = pointOf(this.svg, event);
    const unit = unitOf(this.svg);
    const [width, height] = this.shown.sheet.map((side) => side * this.factor);
    if (distance(point, [width, height]) < 24 * unit) {
      this.ratio = { sheet: this.shown.sheet, to: null };
    } else {
      const reach = REACH[event.pointerType] ?? 20;
      let best = [reach * unit, -1];
      this.shown.tips.forEach((tip, k) => {
        const away = distance(point, this.put(tip));
        if (away < best[0]) best = [away, k];
      });
      if (best[1] < 0) return false;
      const name = this.tree.flaps[best[1]];
      this.layer.tips.children[best[1]].focus({ preventScroll: true });
      this.held = { tip: name, at: this.shown.tips[best[1]], begin: point, moved: false };
    }
    return true;
  }

  move(event) {
    const point = pointOf(this.svg, event);
    if (this.ratio) {
      const [x, y] = point.map((c) => Math.max(c, 60));
      const near = RATIOS.find((ratio) => Math.abs(x / y / ratio - 1) < 0.02);
      this.ratio.to = near ?? Number((x / y).toPrecision(4));
      this.line.say("ratio", { to: this.ratio.to, phase: "move" });
    } else if (this.held && !this.held.keyed) {
      if (!this.held.moved && distance(point, this.held.begin) < 4 * unitOf(this.svg)) return;
      this.held.moved = true;
      this.held.at = this.snapped(this.taken(point));
      this.line.say("hold", { tip: this.held.tip, at: this.held.at, phase: "move" });
      if (!this.easing) this.paint(); // else the picture that is due has the tip where it now is
    }
  }

  release() {
    if (this.ratio) {
      const to = this.ratio.to;
      this.ratio = null;
      if (to) this.line.say("ratio", { to, phase: "drop" });
    } else if (this.held && !this.held.keyed) {
      const { tip, at, moved } = this.held;
      this.held = null;
      if (moved) this.line.say("hold", { tip, at, phase: "drop" });
    }
  }

  /** A point of the sheet, put on an edge it is next to. */
  snapped([x, y]) {
    const room = (SNAP * unitOf(this.svg)) / this.factor;
    const [width, height] = this.shown.sheet;
    const onto = (c, side) => (c < room ? 0 : c > side - room ? side : c);
    return [onto(x, width), onto(y, height)];
  }

  back() {
    if (!this.held && !this.ratio) return false;
    this.held = this.ratio = null;
    this.line.say("back");
    return true;
  }

  // --- the keyboard

  key(event) {
    const name = event.target.dataset?.tip;
    if (!name || event.ctrlKey || event.metaKey || event.altKey) return;
    const tip = this.tree.flaps.indexOf(name);
    const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key];
    const key = event.key.toLowerCase();
    if (way) this.nudge(name, tip, way, event.shiftKey ? 0.001 : 0.01);
    else if (key === "p") this.line.say("pin", { tip: name, to: "here" });
    else if (key === "+" || key === "=" || key === "-") this.lengthen(tip, key === "-" ? 1 / 1.05 : 1.05);
    else if (key === "enter") lengthField(this.tree.written[tip])?.select();
    else return;
    event.preventDefault();
  }

  nudge(name, tip, [x, y], share) {
    const [width, height] = this.target.sheet;
    const step = share * Math.min(width, height);
    const from = this.held?.tip === name ? this.held.at : this.target.tips[tip];
    const at = [clamp(from[0] + x * step, 0, width), clamp(from[1] + y * step, 0, height)];
    this.held = { tip: name, at, keyed: true };
    this.line.say("hold", { tip: name, at, phase: "move" });
  }

  dropKeyed() {
    if (!this.held?.keyed) return;
    const { tip, at } = this.held;
    this.held = null;
    this.line.say("hold", { tip, at, phase: "drop" });
  }

  lengthen(tip, factor) {
    const to = Number((this.target.lengths[tip] * factor).toPrecision(4));
    this.line.say("length", { part: this.tree.written[tip], to, phase: "drop" });
  }

  // --- the tip in hand

  choose(name) {
    if (!name || name === this.chosen) return;
    this.chosen = name;
    if (this.shown) this.paint();
    this.facts();
  }

  nearest() {
    const tip = this.tree.flaps.indexOf(this.chosen);
    const [x, y] = this.target.tips[tip];
    const [width, height] = this.target.sheet;
    const side = Math.min(x, width - x) / width < Math.min(y, height - y) / height;
    const [level, upright] = [y < height / 2 ? "bottom" : "top", x < width / 2 ? "left" : "right"];
    const room = 0.08;
    if (Math.min(x, width - x) < room * width && Math.min(y, height - y) < room * height) return `${level} ${upright}`;
    return side ? upright : level;
  }

  facts() {
    const tip = this.tree ? this.tree.flaps.indexOf(this.chosen) : -1;
    const part = tip < 0 ? null : this.draft?.parts.find((p) => p.name === this.tree.written[tip]);
    document.getElementById("tip-name").textContent = tip < 0 ? "No tip in hand" : said(this.chosen);
    for (const id of ["pin-here", "pin-edge", "unpin"]) document.getElementById(id).disabled = tip < 0;
    document.getElementById("unpin").hidden = !part?.place.length;
    document.getElementById("pin-edge").textContent = tip < 0 ? "Pin to the edge" : `Pin to ${this.nearest()}`;
    const words = tip < 0 ? "" : `${kindOf(this.target.tips[tip], this.target.sheet)}, ${plain(this.target.lengths[tip])}`;
    document.getElementById("tip-facts").textContent = words;
    if (!this.draft) return;
    fill(document.getElementById("size"), this.draft.sheet.text);
    document.getElementById("whole").checked = this.draft.whole;
  }
}
