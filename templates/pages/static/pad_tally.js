// What was touched → what is counted. The same rules as judging/contest/reached.py and tally.py, which the tests hold
// it to: the tally depends on the set of events alone, not on when or how often they came.

const MOST_OFF = 1.5; // a mark that makes the rows so much quicker or slower is a slip of the thumb

// The ringing's way through the changes: marks of [moment, change that began there], and a row's length after the last.
function reached(start_ms, leads_ms, stop_ms, pad) {
  const marks = [[start_ms, 1]];
  let row_ms = pad.row_ms;
  const add = (at_ms, places) => {
    const [last_ms, last] = marks[marks.length - 1];
    const ahead = places.filter((place) => place > last);
    if (!ahead.length || at_ms <= last_ms) return;
    const foretold = last + (at_ms - last_ms) / row_ms;
    const place = ahead.reduce((best, one) => (Math.abs(one - foretold) < Math.abs(best - foretold) ? one : best));
    const lasted_ms = (at_ms - last_ms) / (place - last);
    if (lasted_ms < row_ms / MOST_OFF || lasted_ms > row_ms * MOST_OFF) return;
    marks.push([at_ms, place]);
    row_ms = (at_ms - start_ms) / (place - 1);
  };
  [...leads_ms].sort((a, b) => a - b).forEach((at_ms) => add(at_ms, pad.heads));
  if (stop_ms !== null && pad.changes !== null) add(stop_ms, [pad.changes + 1]);
  return { marks, row_ms };
}

function placeAt(way, at_ms) {
  for (let i = 1; i < way.marks.length; i += 1) {
    const [from_ms, first] = way.marks[i - 1];
    const [to_ms, last] = way.marks[i];
    if (at_ms < to_ms) return first + ((last - first) * (at_ms - from_ms)) / (to_ms - from_ms);
  }
  const [from_ms, first] = way.marks[way.marks.length - 1];
  return first + (at_ms - from_ms) / way.row_ms;
}

function momentOf(way, change) {
  const wanted = change + 0.5;
  for (let i = 1; i < way.marks.length; i += 1) {
    const [from_ms, first] = way.marks[i - 1];
    const [to_ms, last] = way.marks[i];
    if (wanted < last) return from_ms + ((wanted - first) * (to_ms - from_ms)) / (last - first);
  }
  const [at_ms, last] = way.marks[way.marks.length - 1];
  return at_ms + (wanted - last) * way.row_ms;
}

export function changeAt(tally, at_ms, pad) {
  const begun = Math.max(Math.floor(placeAt(tally.way, at_ms)), 1);
  return pad.changes === null ? begun : Math.min(begun, pad.changes);
}

const exact = (figure) => Math.round(figure * 1000) / 1000;
const seconds = (ms) => Math.max(Math.round(ms) / 1000, 0);

// What each fault of a unit adds to what the unit is charged.
function shares(charges, scheme) {
  let total = 0;
  let charged = 0;
  return charges.map((charge) => {
    total = scheme.worst ? Math.max(total, charge) : exact(total + charge);
    let now = total;
    if (scheme.step !== null) now = exact(Math.floor(now / scheme.step + 0.5) * scheme.step);
    if (scheme.cap !== null) now = Math.min(now, scheme.cap);
    const part = exact(now - charged);
    charged = now;
    return part;
  });
}

function charge(lines, pad) {
  if (!pad.scheme.unit_rows) return lines;
  const units = new Map();
  lines.forEach((line) => {
    const unit = Math.floor((line.change - 1) / pad.scheme.unit_rows);
    units.set(unit, [...(units.get(unit) ?? []), line]);
  });
  units.forEach((together) => {
    const parts = shares(together.map((line) => line.faults), pad.scheme);
    together.forEach((line, i) => { line.faults = parts[i]; });
  });
  return lines;
}

// The figure that is signed, or null where only the judge can say it.
export function totalOf(lost, pad) {
  if (pad.unit === "faults") return lost;
  if (!pad.scheme.marks_up || pad.rows === null) return null;
  return Math.max(exact(pad.scheme.cap * Math.ceil(pad.rows / pad.scheme.unit_rows) - lost), 0);
}

// began_ms: when the steward saw the band begin; devices: the pads that count, or null for all.
export function tally(events, pad, began_ms, devices) {
  const compare = (a, b) => (a < b ? -1 : a > b ? 1 : 0);
  const chosen = events
    .filter((event) => devices === null || devices.includes(event.device))
    .sort((a, b) => a.at_ms - b.at_ms || compare(a.device, b.device) || a.seq - b.seq || compare(a.id, b.id));
  const undone = new Set(chosen.filter((event) => event.kind === "undo").map((event) => event.of));
  const standing = chosen.filter((event) => !undone.has(event.id));
  const all = (kind) => standing.filter((event) => event.kind === kind);
  const taps = all("tap");
  const start_ms = all("start")[0]?.at_ms ?? null;
  const stop_ms = all("stop").at(-1)?.at_ms ?? null;
  const begun_ms = start_ms ?? (began_ms !== null ? began_ms + pad.opening * pad.row_ms : taps[0]?.at_ms ?? 0);
  const way = reached(begun_ms, all("lead").map((event) => event.at_ms), stop_ms, pad);
  const found = { way };
  const corrected = new Map(all("correct").filter((event) => event.change).map((event) => [event.change, event.faults]));
  const lines = taps
    .map((tap) => ({ change: changeAt(found, tap.at_ms, pad), faults: tap.faults, time_s: seconds(tap.at_ms - begun_ms) }))
    .filter((line) => !corrected.has(line.change));
  corrected.forEach((faults, change) => {
    if (faults) lines.push({ change, faults, time_s: seconds(momentOf(way, change) - begun_ms) });
  });
  lines.sort((a, b) => a.time_s - b.time_s || a.change - b.change);
  charge(lines, pad);
  const lost = exact(lines.reduce((sum, line) => sum + line.faults, 0));
  const by_device = {};
  taps.forEach((tap) => { by_device[tap.device] = (by_device[tap.device] ?? 0) + 1; });
  return {
    ...found,
    lines,
    lost,
    total: totalOf(lost, pad),
    comment: all("comment").at(-1)?.text ?? "",
    start_ms,
    stop_ms,
    by_device,
    leads: all("lead").length,
    taps,
    corrections: all("correct"),
    // What undo takes back next, of this pad's own deeds.
    last: standing.filter((event) => ["start", "tap", "lead"].includes(event.kind)).at(-1) ?? null,
  };
}
