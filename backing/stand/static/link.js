// The connection to the server: messages both ways, the way back by itself, and the server's clock.

const PINGS_KEPT = 24;
const BURST = 8;

/** @typedef {import("./messages.js").Announcement} Announcement */
/** @typedef {import("./messages.js").Request} Request */
/** @typedef {Announcement | { type: "lost" } | { type: "found" }} Heard the last two are the link's own */
/**
 * @template {Heard["type"]} Type
 * @typedef {Extract<Heard, { type: Type }>} Of the message of a type
 */

export class Link {
  /** @type {WebSocket | null} */
  #socket = null;
  /** @type {Map<string, (message: any) => void>} */
  #listeners = new Map();
  /** @type {{ trip: number, offset: number }[]} */
  #pings = [];
  #wait = 300;
  #pinging = 0;
  #offset = 0;

  /** @param {string} address */
  constructor(address) { this.address = address; }

  /**
   * Call a function for every message of a type.
   * @template {Heard["type"]} Type
   * @param {Type} type
   * @param {(message: Of<Type>) => void} listener
   */
  on(type, listener) { this.#listeners.set(type, listener); }

  open() {
    const socket = new WebSocket(this.address);
    this.#socket = socket;
    socket.addEventListener("open", () => {
      this.#wait = 300;
      this.measure(true);
      this.#pass({ type: "found" });
    });
    socket.addEventListener("message", (event) => this.#receive(JSON.parse(event.data)));
    socket.addEventListener("close", () => {
      if (socket !== this.#socket) return;
      this.#pass({ type: "lost" });
      setTimeout(() => this.open(), this.#wait);
      this.#wait = Math.min(this.#wait * 1.6, 3000);
    });
  }

  /** @param {Request} message */
  send(message) {
    if (this.#socket?.readyState === WebSocket.OPEN) this.#socket.send(JSON.stringify(message));
  }

  /** @param {Heard} message */
  #pass(message) { this.#listeners.get(message.type)?.(message); }

  /** @param {Announcement} message */
  #receive(message) {
    if (message.type !== "pong") return this.#pass(message);
    const back = performance.now() / 1000;
    const sent = message.mine ?? back;
    this.#pings.push({ trip: back - sent, offset: message.time - (back + sent) / 2 });
    if (this.#pings.length > PINGS_KEPT) this.#pings.shift();
    this.#offset = this.#pings.reduce((a, b) => (b.trip < a.trip ? b : a)).offset;
  }

  // Ask for the time, often at first, then now and then.
  measure(anew = false) {
    if (anew) this.#pings = [];
    clearTimeout(this.#pinging);
    /** @param {number} left */
    const ask = (left) => {
      this.send({ type: "ping", mine: performance.now() / 1000 });
      this.#pinging = setTimeout(() => ask(left - 1), left > 0 ? 25 : 2000);
    };
    ask(BURST);
  }

  // Resolves when some pings are back; after about half a second at most.
  async measured(enough = BURST) {
    for (let turn = 0; turn < 40 && this.#pings.length < enough; turn++) {
      await new Promise((go) => setTimeout(go, 15));
    }
  }

  // Seconds of the server's clock, from the ping that travelled least.
  get now() { return performance.now() / 1000 + this.#offset; }

  // How long a message may take, in seconds: half the trip of the slower pings.
  get usualDelay() {
    const trips = this.#pings.map((each) => each.trip).sort((a, b) => a - b);
    return trips.length ? trips[Math.floor(trips.length * 0.8)] / 2 : 0;
  }
}
