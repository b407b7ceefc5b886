// The socket to the server: JSON messages, and a new try when the connection breaks.

const FIRST_PAUSE_MS = 500;
const LONGEST_PAUSE_MS = 8000;

/** A connection that comes back. `on(kind, heard)` listens; kind "connection" tells how it stands. */
export class Wire {
  constructor(address) {
    this.address = address;
    this.listeners = new Map();
    this.socket = null;
    this.pause = FIRST_PAUSE_MS;
    this.turnedAway = false;
  }

  on(kind, heard) {
    const all = this.listeners.get(kind) ?? [];
    all.push(heard);
    this.listeners.set(kind, all);
  }

  open() {
    const socket = new WebSocket(this.address);
    this.socket = socket;
    this.tell({ kind: "connection", state: "opening" });
    socket.addEventListener("open", () => {
      this.pause = FIRST_PAUSE_MS;
      this.tell({ kind: "connection", state: "open" });
    });
    socket.addEventListener("message", (event) => this.received(event.data));
    socket.addEventListener("close", (event) => this.closed(event));
  }

  received(data) {
    let message;
    try {
      message = JSON.parse(data);
    } catch {
      return;
    }
    if (message && typeof message.kind === "string") {
      if (message.kind === "limit" && message.what === "pages") this.turnedAway = true;
      this.tell(message);
    }
  }

  closed(event) {
    this.socket = null;
    if (this.turnedAway || event.code === 1008) {
      this.tell({ kind: "connection", state: "refused", words: event.reason });
      return;
    }
    this.tell({ kind: "connection", state: "closed", words: event.reason });
    setTimeout(() => this.open(), this.pause);
    this.pause = Math.min(this.pause * 2, LONGEST_PAUSE_MS);
  }

  tell(message) {
    for (const heard of this.listeners.get(message.kind) ?? []) heard(message);
  }

  /** Sends a message; false if there is no connection. */
  send(message) {
    if (this.socket?.readyState !== WebSocket.OPEN) return false;
    this.socket.send(JSON.stringify(message));
    return true;
  }
}

/** Where the socket is: beside the page, with the token that the page's own address has. */
export function socketBeside(page) {
  const address = new URL("socket", page);
  address.protocol = address.protocol === "https:" ? "wss:" : "ws:";
  address.search = new URL(page).search;
  return address.href;
}
