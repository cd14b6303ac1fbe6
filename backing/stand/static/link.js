// The connection to the server: messages both ways, reconnection, and the server's clock.

const PINGS_KEPT = 24;
const BURST = 8;

/** @typedef {import("./messages.js").Announcement} Announcement */
/** @typedef {import("./messages.js").Request} Request */
/** @typedef {Announcement | { type: "lost" } | { type: "found" }} Heard the last two come from the link itself */
/**
 * @template {Heard["type"]} Type
 * @typedef {Extract<Heard, { type: Type }>} Of the messages of a type
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

  // Ping the server: a quick series, then every two seconds.
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

  // Resolves when enough pings are answered; after about 0.6 seconds at most.
  async measured(enough = BURST) {
    for (let wait = 0; wait < 40 && this.#pings.length < enough; wait++) {
      await new Promise((go) => setTimeout(go, 15));
    }
  }

  // The server's clock in seconds, by the fastest ping.
  get now() { return performance.now() / 1000 + this.#offset; }

  // The usual longest delay of a message in seconds: half of the 80th percentile of round trips.
  get usualDelay() {
    const trips = this.#pings.map((each) => each.trip).sort((a, b) => a - b);
    return trips.length ? trips[Math.floor(trips.length * 0.8)] / 2 : 0;
  }
}
