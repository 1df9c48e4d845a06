// The parts: names, lengths and how far they may stray, what each costs, where it may lie.

import { fill, keyed, made, write } from "./svg.js";
import { costOfPart, percent, placeText, plain } from "./words.js";

const PLACES = ["", "corner", "edge", "middle", "axis", "left", "right", "top", "bottom", "top left", "top right", "bottom left", "bottom right"];

export class PartsView {
  constructor(line) {
    this.line = line;
    this.rows = document.getElementById("rows");
    this.byName = new Map();
  }

  show(draft, tree, frame) {
    this.draft = draft;
    const rows = keyed(this.rows, draft.parts.map((part) => part.name), (name) => this.row(name));
    draft.parts.forEach((part, k) => this.fill(rows[k], part));
    this.costs(tree, frame);
    const hint = draft.parts.length ? "" : "Parts appear here as they are drawn.";
    document.getElementById("parts-hint").textContent = hint;
  }

  row(name) {
    const say = (kind, values) => this.line.say(kind, { part: row.dataset.key, ...values });
    const title = made("input", { className: "name", autocomplete: "off", spellcheck: false, maxLength: 60 });
    title.addEventListener("change", () => say("rename", { to: title.value }));
    const length = made("input", { className: "length", inputMode: "decimal", autocomplete: "off", size: 6 });
    length.addEventListener("change", () => this.lengthen(row.dataset.key, length));
    const flex = made("input", { className: "flex", inputMode: "decimal", autocomplete: "off", size: 4 });
    flex.addEventListener("change", () => this.loosen(row.dataset.key, flex));
    const measure = made("button", { type: "button", className: "small", textContent: "measure" });
    measure.title = "Measure the drawing by this part: its stroke is as long as typed, the others follow";
    measure.addEventListener("click", () => say("measure", { length: Number(length.value.replace(",", ".")) }));
    const bar = made("span", { className: "bar" });
    const cost = made("span", { className: "cost" });
    const place = made("select");
    for (const one of PLACES) place.append(made("option", { value: one, textContent: one || "anywhere" }));
    place.append(made("option", { value: "pinned", textContent: "pinned", hidden: true }));
    place.addEventListener("change", () => place.value !== "pinned" && say("place", { to: place.value ? [place.value] : [] }));
    const pair = made("input", { type: "checkbox" });
    pair.addEventListener("change", () => say("pair", { to: pair.checked }));
    const remove = made("button", { type: "button", className: "small", textContent: "remove" });
    remove.addEventListener("click", () => say("remove", {}));
    const swatch = made("span", { className: "swatch" });
    const row = made("tr", {},
      made("th", { scope: "row" }, swatch, title),
      cell("Length", length),
      cell("Flex, %", flex),
      cell("Cost of a tenth", made("span", { className: "barred" }, bar, cost)),
      cell("Place", place),
      cell("Pair", pair),
      made("td", { className: "more" }, measure, remove));
    this.byName.set(row, { title, length, flex, measure, bar, cost, place, pair, remove, swatch });
    return row;
  }

  fill(row, part) {
    const cells = this.byName.get(row);
    fill(cells.title, part.name);
    cells.title.setAttribute("aria-label", `Name of ${part.name}`);
    cells.length.dataset.length = part.name;
    cells.length.setAttribute("aria-label", `Length of ${part.name}${part.asked === null ? ", as drawn" : ", asked"}`);
    fill(cells.length, plain(part.asked ?? part.drawn));
    cells.length.classList.toggle("asked", part.asked !== null);
    cells.length.title = part.asked === null ? "As drawn; type a length, or empty it to follow the stroke again" : `Asked; drawn ${plain(part.drawn)}`;
    cells.flex.setAttribute("aria-label", `Flex of ${part.name}, in per cent`);
    fill(cells.flex, part.flex ? plain(100 * part.flex) : "");
    cells.measure.setAttribute("aria-label", `Measure the drawing by ${part.name}`);
    cells.swatch.style.background = part.colour;
    cells.swatch.classList.toggle("river", part.kind === "river");
    cells.place.setAttribute("aria-label", `Place of ${part.name}`);
    cells.place.hidden = part.kind === "river";
    const text = placeText(part.place);
    const known = PLACES.includes(text);
    cells.place.lastChild.hidden = known;
    cells.place.lastChild.textContent = known ? "pinned" : text;
    if (document.activeElement !== cells.place) cells.place.value = known ? text : "pinned";
    cells.pair.setAttribute("aria-label", `${part.name} is a pair`);
    cells.pair.checked = part.twin;
    cells.pair.disabled = part.twin && !part.pair;
    cells.remove.setAttribute("aria-label", `Remove ${part.name}`);
  }

  lengthen(name, field) {
    const to = numberIn(field);
    if (to !== null && !(to > 0)) complain(field, "A length is a number above zero");
    else this.line.say("length", { part: name, to, phase: "drop" });
  }

  loosen(name, field) {
    const share = numberIn(field) ?? 0;
    if (!(share >= 0 && share <= 99)) complain(field, "Flex is a number from 0 to 99, in per cent of the length");
    else this.line.say("flex", { part: name, to: Number((share / 100).toPrecision(9)) });
  }

  /** Costs alone, for every frame of a pull. */
  costs(tree, frame) {
    if (!tree || !this.draft) return;
    const costs = this.draft.parts.map((part) => costOfPart(tree, frame, part.name));
    const most = Math.max(0.01, ...costs);
    [...this.rows.children].forEach((row, k) => {
      const { bar, cost } = this.byName.get(row);
      bar.style.transform = `scaleX(${Math.max(0, costs[k] / most).toFixed(3)})`;
      const text = costs[k] < 5e-5 ? "free" : percent(costs[k], 2);
      write(cost, text);
    });
  }
}

/** A cell that knows its column's head, for small windows where it stands in the cell. */
function cell(head, field) {
  const box = made("td", {}, field);
  box.dataset.head = head;
  return box;
}

/** The number typed into a field; null where it is empty. */
function numberIn(field) {
  field.setCustomValidity("");
  const text = field.value.trim().replace(",", ".").replace(/\s*%$/, "");
  return text === "" ? null : Number(text);
}

function complain(field, sentence) {
  field.setCustomValidity(sentence);
  field.reportValidity();
}
