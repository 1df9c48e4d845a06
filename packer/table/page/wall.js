// Offers and the wall: small pictures of packings to take, keep, compare and put back.

import { smallPicture } from "./paint.js";
import { drawn, fill, keyed, made, set } from "./svg.js";
import { percent, plain, said, signed } from "./words.js";

const LOOKING = {
  better: "Looking for better layouts while you think.",
  gallery: "Looking for really different ones.",
};

export class OffersView {
  constructor(line) {
    this.line = line;
    this.list = document.getElementById("offer-cards");
    document.getElementById("gallery").addEventListener("click", () => line.say("gallery"));
  }

  show({ looking, offers }) {
    const none = offers.length ? "" : "Nothing better found so far.";
    document.getElementById("looking").textContent = LOOKING[looking] ?? none;
    const cards = keyed(this.list, offers.map((offer) => offer.card), () => made("li", { className: "card" }));
    offers.forEach((offer, k) => {
      if (cards[k].children.length) return;
      const gain = signed(offer.gain, Math.abs(offer.gain) < 0.001 ? 3 : 1);
      const take = made("button", { type: "button", textContent: "Take it" });
      take.setAttribute("aria-label", `Take the layout of ${gain}`);
      take.addEventListener("click", () => this.line.say("take", { card: offer.card }));
      const leave = made("button", { type: "button", textContent: "Leave it" });
      leave.setAttribute("aria-label", `Leave the layout of ${gain}`);
      leave.addEventListener("click", () => this.line.say("leave", { card: offer.card }));
      const picture = smallPicture(offer.tree, offer.frame, `Layout of ${gain} scale`);
      cards[k].append(picture, made("p", { className: "gain", textContent: gain }), made("p", { className: "actions" }, take, leave));
    });
  }
}

export class WallView {
  constructor(line) {
    this.line = line;
    this.list = document.getElementById("wall-cards");
    this.box = document.getElementById("comparison");
    this.marked = [];
    this.cards = [];
  }

  show(cards) {
    this.cards = cards;
    this.marked = this.marked.filter((number) => cards.some(({ card }) => card === number));
    document.getElementById("wall-hint").hidden = cards.length > 1;
    const items = keyed(this.list, cards.map(({ card }) => card), (number) => this.item(cards.find(({ card }) => card === number)));
    cards.forEach((card, k) => {
      fill(items[k].querySelector("input.name"), card.name);
      items[k].querySelector("input[type=checkbox]").setAttribute("aria-label", `Compare ${card.name}`);
      items[k].querySelector("button.restore").setAttribute("aria-label", `Put back ${card.name}`);
      items[k].querySelector("button.forget").setAttribute("aria-label", `Take down ${card.name}`);
    });
    if (this.marked.length < 2) this.box.hidden = true;
  }

  item(card) {
    const name = made("input", { className: "name", autocomplete: "off", spellcheck: false, maxLength: 60 });
    name.setAttribute("aria-label", "Name of the variant");
    name.addEventListener("change", () => this.line.say("call", { card: card.card, to: name.value }));
    const mark = made("input", { type: "checkbox" });
    mark.addEventListener("change", () => this.mark(card.card, mark.checked));
    const restore = made("button", { type: "button", className: "restore", textContent: "Put back" });
    restore.addEventListener("click", () => this.line.say("restore", { card: card.card }));
    const forget = made("button", { type: "button", className: "forget", textContent: "Take down" });
    forget.addEventListener("click", () => this.line.say("forget", { card: card.card }));
    const facts = `scale ${plain(card.scale)}, ${card.size}`;
    return made("li", { className: "card pinned" }, name,
      smallPicture(card.tree, card.frame, card.name),
      made("p", { className: "soft", textContent: facts }),
      made("p", { className: "actions" }, made("label", { className: "check" }, mark, " compare"), restore, forget));
  }

  mark(number, on) {
    this.marked = this.marked.filter((one) => one !== number);
    if (on) this.marked.push(number);
    if (this.marked.length > 2) {
      const [gone] = this.marked.splice(0, 1);
      this.list.querySelector(`[data-key="${gone}"] input[type=checkbox]`).checked = false;
    }
    this.box.hidden = this.marked.length < 2;
    if (this.marked.length === 2) this.line.say("compare", { one: this.marked[0], other: this.marked[1] });
  }

  /** Show how two variants differ: tips that moved as arrows, lengths in a table. */
  compare(told) {
    const [one, other] = [told.one, told.other].map((number) => this.cards.find(({ card }) => card === number));
    if (!one || !other) return;
    this.box.hidden = false;
    const head = made("h3", { textContent: `${one.name} and ${other.name}` });
    const sum = made("p", { textContent: `Scale of ${other.name} against ${one.name}, on sheets of the same area: ${signed(told.scale)}; ${told.tips.length} of ${one.tree.flaps.length} tips moved.` });
    const picture = smallPicture(one.tree, one.frame, `${one.name}, with arrows to where tips lie in ${other.name}`);
    this.arrows(picture, one.frame, told.tips);
    // twins have one length, and what grew as the scale did has not changed in the figure
    const parts = told.parts.filter(({ name, before, after }) => !name.endsWith(".right") && (before === null || after === null || Math.abs(after / before / (1 + told.scale) - 1) > 5e-4));
    const rows = parts.map(({ name, before, after }) => made("tr", {},
      made("th", { scope: "row", textContent: name.replace(/\.left$/, "") }),
      made("td", { textContent: before === null ? "not there" : plain(before, 3) }),
      made("td", { textContent: after === null ? "gone" : plain(after, 3) }),
      made("td", { textContent: before === null || after === null ? "" : `${after > before ? "grew" : "shrank"} ${signed(after / before - 1)}` })));
    const moved = told.tips.map(({ name, share }) => made("li", { textContent: `${said(name)} moved ${percent(share, 0)} of the side` }));
    const table = made("table", {}, made("thead", {}, made("tr", {}, ...["Part", one.name, other.name, ""].map((text) => made("th", { scope: "col", textContent: text })))), made("tbody", {}, ...rows));
    const words = made("div", {}, made("p", { className: "soft", textContent: rows.length ? "Lengths on a sheet of side 1; all other parts changed with the scale alone." : "The figure is the same: its parts changed with the scale alone." }), ...(rows.length ? [table] : []), made("ul", {}, ...moved));
    this.box.replaceChildren(head, sum, made("div", { className: "beside" }, picture, words));
  }

  arrows(svg, frame, tips) {
    const factor = 100 / frame.sheet[0];
    const height = frame.sheet[1] * factor;
    const put = ([x, y]) => [x * factor, height - y * factor];
    for (const { from, to } of tips) {
      const [a, b] = [put(from), put(to)];
      const size = Math.hypot(b[0] - a[0], b[1] - a[1]);
      const [x, y] = [(b[0] - a[0]) / size, (b[1] - a[1]) / size];
      const head = `M${b[0] - 3 * x - 1.5 * y} ${b[1] - 3 * y + 1.5 * x}L${b[0]} ${b[1]}L${b[0] - 3 * x + 1.5 * y} ${b[1] - 3 * y - 1.5 * x}`;
      svg.append(set(drawn("path"), { d: `M${a.join(" ")}L${b.join(" ")}${head}`, class: "arrow" }));
    }
  }
}
