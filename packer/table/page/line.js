// The line to the table: of a pull one change is under way and the newest one waits.

export class Line {
  constructor(hears) {
    this.hears = hears;
    this.number = 0;
    this.underWay = 0;
    this.waiting = null;
    this.began = 0;
    this.sent = null; // called with everything that is said
    const address = new URL("line", location.href);
    address.protocol = "ws:";
    this.socket = new WebSocket(address);
    this.socket.addEventListener("message", (event) => this.take(JSON.parse(event.data)));
    this.socket.addEventListener("close", () => hears({ kind: "closed" }));
  }

  /** Say something; a pull under way waits until the table has answered the one before. */
  say(kind, values = {}) {
    if (values.phase === "move") {
      if (this.underWay) this.waiting = { kind, values, at: performance.now() };
      else this.pull({ kind, values, at: performance.now() });
      return;
    }
    this.waiting = null;
    this.send(kind, values);
  }

  pull({ kind, values, at }) {
    this.began = at;
    this.underWay = this.send(kind, values);
  }

  send(kind, values) {
    this.number += 1;
    this.sent?.();
    if (this.socket.readyState === WebSocket.OPEN) {
      this.socket.send(JSON.stringify({ kind, number: this.number, ...values }));
    }
    return this.number;
  }

  /** Send a picture's bytes. */
  sendPicture(bytes) {
    this.socket.send(bytes);
  }

  take(told) {
    const answers = told.kind === "state" && this.underWay && told.number >= this.underWay;
    const began = this.began;
    this.hears(told);
    if (!answers) return;
    this.underWay = 0;
    // how long a pull takes from the pointer to the picture, for whoever measures it
    requestAnimationFrame(() => setTimeout(() => {
      if (this.number % 1000 === 0) performance.clearMeasures("pull");
      performance.measure("pull", { start: began, end: performance.now() });
    }));
    if (this.waiting) {
      const next = this.waiting;
      this.waiting = null;
      this.pull(next);
    }
  }
}
