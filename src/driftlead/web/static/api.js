// The way to the daemon: sessions, commands and questions. See the API's description.

const BASE = "/api/v1";
const ANSWER_LIMIT_MS = 6000;

/** A refusal in words for people, with what to do about it. */
export class Refusal extends Error {
  constructor({ code, text, remedy, answer }, retryAfterS = null) {
    super(text);
    this.code = code;
    this.remedy = remedy ?? "";
    this.answer = answer ?? null;
    this.retryAfterS = retryAfterS;
  }
}

const NO_WAY = {
  code: "no_way",
  text: "There was no answer.",
  remedy: "Look whether this device is still on the boat's network and the daemon is running.",
};

export class Api {
  constructor() {
    this.csrf = null;
    this.session = null;
  }

  async ask(path) {
    return this.#send("GET", path);
  }

  async begin() {
    return this.#keep(await this.ask("/session"));
  }

  async pair(pin, name) {
    return this.#keep(await this.#send("POST", "/pair", { pin, name }));
  }

  async unpair(id) {
    return this.#send("DELETE", `/devices/${encodeURIComponent(id)}`);
  }

  async plan(request) {
    return this.#send("POST", "/plan", request);
  }

  /** Gives a command; asks once more with the same key where the answer was lost. */
  async command(command, now, fields = {}) {
    const body = { command, key: newKey(), run_id: now.run_id, run_s: now.run_s, ...fields };
    try {
      return await this.#send("POST", "/commands", body);
    } catch (refusal) {
      if (refusal.code !== "no_way") throw refusal;
    }
    try {
      return await this.#send("POST", "/commands", body);
    } catch (refusal) {
      if (refusal.code === "replayed" && refusal.answer) return refusal.answer;
      throw refusal;
    }
  }

  stream(after) {
    const query = after ? `?after=${encodeURIComponent(after)}` : "";
    return new EventSource(`${BASE}/stream${query}`);
  }

  replay(name, speed, fromS) {
    const query = new URLSearchParams({ speed: String(speed), from: String(fromS) });
    return new EventSource(`${BASE}/nights/${encodeURIComponent(name)}/replay?${query}`);
  }

  #keep(session) {
    this.session = session;
    this.csrf = session.csrf;
    return session;
  }

  async #send(method, path, body) {
    const headers = { Accept: "application/json" };
    if (body !== undefined) headers["Content-Type"] = "application/json";
    if (method !== "GET" && this.csrf) headers["X-Csrf-Token"] = this.csrf;
    let response;
    let data;
    try {
      response = await fetch(BASE + path, {
        method,
        headers,
        body: body === undefined ? undefined : JSON.stringify(body),
        cache: "no-store",
        credentials: "same-origin",
        signal: AbortSignal.timeout(ANSWER_LIMIT_MS),
      });
      data = await response.json();
    } catch {
      throw new Refusal(NO_WAY);
    }
    if (response.ok) return data;
    throw new Refusal(data, Number(response.headers.get("Retry-After")) || null);
  }
}

/** Twenty-two letters by chance: 128 bits, once for each command. */
function newKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return btoa(String.fromCharCode(...bytes)).replaceAll("+", "-").replaceAll("/", "_").replaceAll("=", "");
}
