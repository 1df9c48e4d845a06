// The table in the browser: what the table tells goes to the views, what hands do goes to the table.

import { DrawingView } from "./drawing_hand.js";
import { Line } from "./line.js";
import { OnwardView } from "./onward.js";
import { PartsView } from "./parts.js";
import { PictureView } from "./picture.js";
import { SheetView } from "./sheet.js";
import { fill, keyed, made, write } from "./svg.js";
import { OffersView, WallView } from "./wall.js";
import { headroomText, plain, signed } from "./words.js";

const by = (id) => document.getElementById(id);
const known = { draft: null, tree: null, frame: null, answered: 0 };

const line = new Line((told) => hear[told.kind]?.(told));
const sheet = new SheetView(line);
const drawing = new DrawingView(line);
const picture = new PictureView(line, () => drawing.show(known.draft, picture.shown));
const parts = new PartsView(line);
const offers = new OffersView(line);
const wall = new WallView(line);
const onward = new OnwardView(line);

/** Tell a screen reader whether the table is still at work on what was said, or its picture moves. */
function showBusy() {
  const busy = known.answered < line.number || (known.frame && !known.frame.rest) || sheet.easing;
  document.querySelector("main").setAttribute("aria-busy", String(Boolean(busy)));
}
line.sent = showBusy;
sheet.came = showBusy;

const hear = {
  state(told) {
    known.answered = Math.max(known.answered, told.number);
    if (told.draft) known.draft = told.draft;
    if (told.tree) known.tree = told.tree;
    if (told.frame) known.frame = told.frame;
    document.body.classList.toggle("empty", !known.frame);
    if (told.draft) {
      picture.show(told.draft.picture);
      drawing.show(told.draft, picture.shown);
      fill(by("title"), told.draft.name);
      document.title = `${told.draft.name}: table`;
    }
    if (known.frame) sheet.show(known.tree, known.frame, known.draft);
    if (told.draft || told.tree) parts.show(known.draft, known.tree, known.frame);
    else parts.costs(known.tree, known.frame);
    showLine(told.line, told.frame);
    by("undo").disabled = !told.undo;
    by("redo").disabled = !told.redo;
    showBusy();
  },
  offers: (told) => offers.show(told),
  wall: (told) => wall.show(told.cards),
  comparison: (told) => wall.compare(told),
  tasks: (told) => onward.show(told),
  saved: (told) => say(`Saved ${told.names.join(", ")} in ${told.folder}`),
  sentence(told) {
    known.answered = line.number;
    showBusy();
    complain(told.text);
  },
  role(told) {
    by("role").hidden = told.draws;
    document.body.classList.toggle("looks-on", !told.draws);
  },
  closed() {
    complain("The table has ended. What lay on it is kept in the project folder; start it again with packer table.");
    document.body.classList.add("looks-on");
  },
};

/** Say something that went well, for eyes and for a screen reader. */
function say(text) {
  complain("");
  by("status").textContent = text;
  by("sentence").textContent = text;
  by("sentence").classList.add("well");
}

/** Say what is wrong; it stays until the next change. */
function complain(text) {
  by("sentence").textContent = text;
  by("sentence").classList.remove("well");
}

function showLine(told, frame) {
  const facts = told.scale === null ? [["scale", "nothing packed yet"]] : [
    ["scale", told.mm ? `${plain(told.scale)} (${plain(told.scale * told.mm, 3)} mm for 1)` : plain(told.scale)],
    ["change", told.difference === null ? "" : signed(told.difference, Math.abs(told.difference) < 0.001 ? 3 : 1)],
    ["headroom", headroomText(told.headroom)],
    ["middle flaps", `${told.middle} of ${told.flaps}`],
    ["loose", String(told.loose)],
  ];
  const boxes = keyed(by("line"), facts.map(([name]) => name), (name) => made("div", {}, made("dt", { textContent: name }), made("dd")));
  facts.forEach(([, value], k) => write(boxes[k].lastChild, value || "none"));
  if (frame?.rest) {
    const split = frame.split.length ? `; rivers in strands: ${frame.split.join(", ")}` : "";
    by("status").textContent = facts.map(([name, value]) => `${name} ${value || "none"}`).join(", ") + split;
  }
}

by("undo").addEventListener("click", () => line.say("undo"));
by("redo").addEventListener("click", () => line.say("redo"));
by("keep").addEventListener("click", () => line.say("keep", { name: "" }));
by("save").addEventListener("click", () => line.say("save"));
by("claim").addEventListener("click", () => line.say("claim"));
by("title").addEventListener("change", () => line.say("title", { to: by("title").value }));
document.addEventListener("pointerdown", () => by("sentence").classList.contains("well") || complain(""), { capture: true });

document.addEventListener("keydown", (event) => {
  const writing = event.target.matches("input:not([type=checkbox], [type=range]), select, textarea");
  const key = event.key.toLowerCase();
  const control = event.ctrlKey || event.metaKey;
  if (control && key === "z" && !writing) line.say(event.shiftKey ? "redo" : "undo");
  else if (control && key === "y" && !writing) line.say("redo");
  else if (control && key === "s") line.say("save");
  else if (key === "escape") {
    if (!sheet.back() && !drawing.back() && writing) event.target.blur();
  } else if (key === "k" && !control && !event.altKey && !writing) line.say("keep", { name: "" });
  else return;
  event.preventDefault();
});

addEventListener("resize", () => {
  if (known.draft) drawing.show(known.draft, picture.shown);
  if (known.frame) sheet.show(known.tree, known.frame, known.draft);
});
