// The line to the server: sends what the log holds until the server has named it, and measures how far the two clocks
// are apart. One message at a time; a message that is lost is sent again, and the server keeps each event once.

const MOST_EVENTS = 100;
const PATIENCE_MS = 8000;
const IDLE_MS = 5000;
const LONGEST_WAIT_MS = 8000;
const READINGS = 12;

// This page's own clock: the device's when the page was opened, and from then on one that cannot be put back or forward.
const origin_ms = Date.now() - performance.now();
export const clock_ms = () => origin_ms + performance.now();

export class Line {
  // state: "sent", "waiting", "no signal", "closed", "no link", "too fast"; told: what the server said last.
  constructor(pad, log, changed) {
    this.pad = pad;
    this.log = log;
    this.changed = changed;
    this.state = "waiting";
    this.why = "";
    this.others = new Map();
    this.told = null;
    this.after = 0;
    this.readings = [];
    this.wait_ms = 500;
    this.most = MOST_EVENTS;
    this.timer = 0;
    this.isBusy = false;
    window.addEventListener("online", () => this.hurry());
    document.addEventListener("visibilitychange", () => {
      if (document.visibilityState !== "visible") return;
      this.readings = []; // the clock may have slept with the device
      this.hurry();
    });
  }

  // The server's clock less this page's: of several round trips the quickest, which can be wrong by least.
  get offset_ms() {
    if (!this.readings.length) return 0;
    return this.readings.reduce((best, one) => (one.trip_ms < best.trip_ms ? one : best)).offset_ms;
  }

  async begin() {
    this.isBusy = true;
    for (let i = 0; i < 4; i += 1) {
      if (!(await this.#say([]))) break;
    }
    this.isBusy = false;
    this.hurry();
  }

  hurry() {
    clearTimeout(this.timer);
    this.#pump();
  }

  async #pump() {
    if (this.isBusy) return;
    this.isBusy = true;
    let answered = this.readings.length > 0 || (await this.#say([])); // no event before the clocks are known
    if (answered) {
      do answered = await this.#say(this.log.unsent.slice(0, this.most));
      while (answered && this.log.unsent.length);
    }
    this.isBusy = false;
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.#pump(), answered ? IDLE_MS : this.wait_ms);
  }

  // Send some events (or none, to hear how things stand); true where the server answered with what it has.
  async #say(events) {
    const begun_ms = clock_ms();
    const stop = new AbortController();
    const patience = setTimeout(() => stop.abort(), PATIENCE_MS);
    try {
      const answer = await fetch(this.pad.address, {
        method: "POST",
        headers: { "content-type": "application/json", accept: "application/json" },
        body: JSON.stringify({
          device: this.log.device,
          entry: this.pad.entry,
          after: this.after,
          events: events.map((event) => written(event, this.offset_ms)),
        }),
        signal: stop.signal,
      });
      const told = await answer.json();
      if (!answer.ok) return this.#refused(answer.status, told.error ?? "", events);
      this.#heard(told, begun_ms, clock_ms(), events);
      return !events.length || told.kept.length > 0 || Object.keys(told.refused).length > 0;
    } catch {
      this.wait_ms = Math.min(this.wait_ms * 2, LONGEST_WAIT_MS);
      this.#is("no signal", "");
      return false;
    } finally {
      clearTimeout(patience);
    }
  }

  #heard(told, begun_ms, ended_ms, events) {
    if (!events.length || !this.readings.length) {
      const trip_ms = ended_ms - begun_ms;
      this.readings.push({ trip_ms, offset_ms: told.now_ms - (begun_ms + ended_ms) / 2 });
      this.readings = this.readings.slice(-READINGS);
    }
    told.kept.forEach((id) => this.log.note(id, { is_sent: true }));
    told.future.forEach((id) => this.log.note(id, { is_ahead: true }));
    Object.entries(told.refused).forEach(([id, why]) => this.log.note(id, { refused: why }));
    told.others.forEach((event) => this.others.set(event.id, event));
    this.after = told.after;
    this.told = told;
    this.wait_ms = 500;
    if (events.length) this.most = MOST_EVENTS;
    this.#is(this.log.unsent.length ? "waiting" : "sent", "");
  }

  #refused(status, why, events) {
    this.wait_ms = Math.min(this.wait_ms * 2, LONGEST_WAIT_MS);
    if (status === 422 && events.length === 1) {
      this.log.note(events[0].id, { refused: why });
      return true;
    }
    if (status === 422 && events.length) {
      this.most = 1; // one of them cannot be read: the others must not wait for it
      return true;
    }
    if (status === 429) this.#is("too fast", why);
    else if (status === 409) this.#is("closed", why);
    else if (status === 401 || status === 403 || status === 404) this.#is("no link", why);
    else this.#is("no signal", why);
    return false;
  }

  #is(state, why) {
    this.state = state;
    this.why = why;
    this.changed();
  }
}

// An event as it is sent, without what this device notes beside it.
function written({ id, seq, kind, at_ms, offset_ms, faults, change, of, text, sheet }, measured_ms) {
  return { id, seq, kind, at_ms: Math.round(at_ms), offset_ms: offset_ms ?? measured_ms, faults, change, of, text, sheet };
}
