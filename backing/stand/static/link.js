// The socket to the server: messages both ways, coming back by itself, and the server's clock.

const PINGS_KEPT = 24;
const BURST = 8;

export class Link {
  #socket = null;
  #hearers = new Map();
  #pings = [];
  #wait = 300;
  #pinging = 0;
  #offset = 0;

  constructor(address) { this.address = address; }

  // Be told every message of a type; "lost" and "found" are of our own.
  on(type, hear) { this.#hearers.set(type, hear); }

  open() {
    const socket = new WebSocket(this.address);
    this.#socket = socket;
    socket.addEventListener("open", () => {
      this.#wait = 300;
      this.measure(true);
      this.#tell({ type: "found" });
    });
    socket.addEventListener("message", (event) => this.#heard(JSON.parse(event.data)));
    socket.addEventListener("close", () => {
      if (socket !== this.#socket) return;
      this.#tell({ type: "lost" });
      setTimeout(() => this.open(), this.#wait);
      this.#wait = Math.min(this.#wait * 1.6, 3000);
    });
  }

  send(message) {
    if (this.#socket?.readyState === WebSocket.OPEN) this.#socket.send(JSON.stringify(message));
  }

  #tell(message) { this.#hearers.get(message.type)?.(message); }

  #heard(message) {
    if (message.type !== "pong") return this.#tell(message);
    const back = performance.now() / 1000;
    const trip = back - message.mine;
    this.#pings.push({ trip, offset: message.time - (back + message.mine) / 2 });
    if (this.#pings.length > PINGS_KEPT) this.#pings.shift();
    this.#offset = this.#pings.reduce((a, b) => (b.trip < a.trip ? b : a)).offset;
  }

  // Ask for the time, often at first, then now and then.
  measure(anew = false) {
    if (anew) this.#pings = [];
    clearTimeout(this.#pinging);
    const ask = (left) => {
      this.send({ type: "ping", mine: performance.now() / 1000 });
      this.#pinging = setTimeout(() => ask(left - 1), left > 0 ? 25 : 2000);
    };
    ask(BURST);
  }

  // Until some pings are back; at most about half a second.
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
