// On from here: creases, guide, grid, plan, print and report, with progress, a way to stop, and results.

import { keyed, made } from "./svg.js";

const NAMES = { creases: "Creases", guide: "Guide", grid: "Grid", plan: "Plan", print: "Print", report: "Report" };

/** Pictures and pages open beside this one; what a browser may not show here is downloaded. */
const opens = (name) => (/\.(svg|png|html)$/.test(name) ? { target: "_blank", rel: "noreferrer" } : { download: name });

export class OnwardView {
  constructor(line) {
    this.line = line;
    this.buttons = [...document.querySelectorAll("[data-act]")];
    this.stop = document.getElementById("stop");
    const [sheet, paper] = ["true-size", "pages"].map((id) => document.getElementById(id));
    for (const button of this.buttons) {
      button.addEventListener("click", () => line.say("act", { what: button.dataset.act, sheet: sheet.value, paper: paper.value || "A4" }));
    }
    this.stop.addEventListener("click", () => line.say("stop"));
  }

  show({ running, results }) {
    for (const button of this.buttons) button.disabled = Boolean(running);
    this.stop.hidden = !running;
    const line = document.getElementById("running");
    line.textContent = running ? `${NAMES[running.what]}: ${running.progress}` : "";
    const shown = results.toReversed();
    const cards = keyed(document.getElementById("results"), shown.map((one) => `${one.what} ${one.stamp}`), () => made("article", { className: "result" }));
    shown.forEach((result, k) => {
      if (!cards[k].children.length) cards[k].append(...this.result(result));
    });
  }

  result({ what, names, text, command, stamp }) {
    const address = (name) => `file/${encodeURIComponent(name)}?${stamp}`;
    const pictures = names.filter((name) => name.endsWith(".svg"));
    const links = names.filter((name) => /\.(svg|png|pdf|html|json|fold)$/.test(name));
    const picture = (name) => made("a", { href: address(name), target: "_blank", rel: "noreferrer" }, made("img", { src: address(name), alt: `${NAMES[what]}: ${name}`, loading: "lazy" }));
    return [
      made("h3", { textContent: NAMES[what] }),
      made("div", { className: pictures.length ? "beside" : "beside plain" },
        made("div", { className: "pictures", hidden: !pictures.length }, ...pictures.map(picture)),
        made("div", {},
          made("pre", { className: "told", textContent: text, hidden: !text }),
          made("p", {}, "Files: ", ...links.flatMap((name) => [made("a", { href: address(name), ...opens(name), textContent: name }), " "])),
          made("p", { className: "soft", textContent: "The same by command, in the project folder:" }),
          made("pre", {}, made("code", { textContent: command })))),
    ];
  }
}
