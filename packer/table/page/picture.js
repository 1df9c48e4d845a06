// The picture under the drawing: chosen, moved, scaled, turned, faded.

import { fill } from "./svg.js";

export class PictureView {
  constructor(line, changed) {
    this.line = line;
    this.changed = changed;
    this.shown = null; // { name, address, size } once it has been loaded
    const by = (id) => document.getElementById(`picture-${id}`);
    this.fields = Object.fromEntries(["strength", "scale", "turn", "x", "y"].map((id) => [id, by(id)]));
    by("file").addEventListener("change", (event) => this.choose(event.target));
    by("remove").addEventListener("click", () => this.line.say("bare"));
    for (const field of Object.values(this.fields)) {
      field.addEventListener("input", () => field.type === "range" && this.say("move"));
      field.addEventListener("change", () => this.say("drop"));
    }
  }

  async choose(input) {
    const [file] = input.files;
    if (file) this.line.sendPicture(await file.arrayBuffer());
    input.value = "";
  }

  say(phase) {
    if (!this.record) return;
    const number = (id, otherwise) => (Number.isFinite(this.fields[id].valueAsNumber) ? this.fields[id].valueAsNumber : otherwise);
    const { at, scale, turn, strength } = this.record;
    this.line.say("picture", {
      at: [number("x", at[0]), number("y", at[1])],
      scale: number("scale", 100 * scale) / 100,
      turn: number("turn", turn),
      strength: number("strength", strength),
      phase,
    });
  }

  /** Take up what the drawing says of its picture; load it where it is a fresh one. */
  show(record) {
    this.record = record;
    const has = Boolean(record);
    for (const field of Object.values(this.fields)) field.disabled = !has;
    document.getElementById("picture-remove").disabled = !has;
    if (!record) {
      this.shown = null;
      return;
    }
    fill(this.fields.strength, record.strength);
    fill(this.fields.scale, Math.round(100 * record.scale));
    fill(this.fields.turn, Math.round(record.turn));
    fill(this.fields.x, Math.round(record.at[0]));
    fill(this.fields.y, Math.round(record.at[1]));
    if (this.shown?.name === record.name) return;
    this.shown = null;
    const image = new Image();
    const address = `file/${encodeURIComponent(record.name)}`;
    image.addEventListener("load", () => {
      this.shown = { name: record.name, address, size: [image.naturalWidth, image.naturalHeight] };
      this.changed();
    });
    image.src = address;
  }
}
