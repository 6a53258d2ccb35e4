// A judge's pad. Every touch goes into the log first, then onto the screen, then down the line.

import { Log } from "./pad_log.js";
import { Line, clock_ms } from "./pad_line.js";
import { tally, changeAt } from "./pad_tally.js";

const pad = JSON.parse(document.querySelector("[data-pad]").dataset.pad);
const $ = (name) => document.querySelector(`[data-part="${name}"]`);
const $$ = (name) => document.querySelectorAll(`[data-part="${name}"]`);

const log = new Log(pad.key, () => show());
const line = new Line(pad, log, () => show());

let devices = null; // the pads that count, once a judge of two has chosen
let isReading = false; // reading the tally back
let mayRevise = false; // the sheet is signed, and is being changed
let hasSigned = false; // since this page was opened
let asked = null; // the signature that the server asked about, shown once

const BUZZ = { light: 25, heavy: 80, lead: 12, undo: [25, 50, 25], start: 40, stop: [60, 60, 60] };
const FASTEST = 30; // touches a second; more is a stuck key
let lately = [];

function buzz(what) {
  navigator.vibrate?.(BUZZ[what]);
}

// Everything this judge's pads hold, on the server's clock.
function events() {
  const own = log.own.map((event) => ({ ...event, at_ms: event.at_ms + (event.offset_ms ?? line.offset_ms) }));
  return [...own, ...[...line.others.values()].filter((event) => !log.events.has(event.id))];
}

function counted() {
  return tally(events().filter((event) => !event.refused), pad, line.told?.began_ms ?? null, devices);
}

function add(event) {
  log.add({ at_ms: clock_ms(), offset_ms: line.readings.length ? line.offset_ms : null, ...event });
  line.hurry();
  show();
}

// ½, 1½, 12: as the rest of Evenblow writes figures.
function figure(number) {
  const whole = Math.floor(number);
  const part = { 0.25: "¼", 0.5: "½", 0.75: "¾" }[Math.round((number - whole) * 1000) / 1000];
  if (part) return `${whole || ""}${part}`;
  return String(number);
}

// ---- counting ----

function press(what) {
  const now_ms = performance.now();
  lately = [...lately.filter((one) => now_ms - one < 1000), now_ms];
  if (lately.length > FASTEST) {
    $("alert").textContent = "Faster than any thumb: is something lying on the pad?";
    return;
  }
  const last = counted().last;
  const deeds = {
    light: () => add({ kind: "tap", faults: pad.light }),
    heavy: () => add({ kind: "tap", faults: pad.heavy }),
    lead: () => add({ kind: counted().start_ms === null ? "start" : "lead" }),
    start: () => add({ kind: "start" }),
    stop: () => { add({ kind: "stop" }); isReading = true; show(); $("readback-title").focus(); },
    undo: () => last && add({ kind: "undo", of: last.id }),
  };
  deeds[what]();
  buzz(what);
  flash(what, last);
}

function flash(what, last) {
  const area = document.querySelector(`[data-press="${what}"]`);
  const took = last ? `took back: ${named(last)}` : "nothing to take back";
  $("undone").textContent = what === "undo" ? took : "";
  area?.classList.add("touched");
  setTimeout(() => area?.classList.remove("touched"), 140);
}

function named(event) {
  if (event.kind === "tap") return figure(event.faults);
  return event.kind === "start" ? "the first change" : "a lead";
}

// A thumb counts as it comes down; a keyboard or a screen reader as it clicks.
document.querySelectorAll("[data-press]").forEach((area) => {
  let down_ms = -Infinity;
  area.addEventListener("pointerdown", (event) => {
    if (event.button !== 0 || ["start", "stop"].includes(area.dataset.press)) return;
    down_ms = performance.now();
    press(area.dataset.press);
  });
  area.addEventListener("click", (event) => {
    if (event.detail !== 0 && performance.now() - down_ms < 3000) return; // counted already as it came down
    press(area.dataset.press);
  });
  area.addEventListener("contextmenu", (event) => event.preventDefault());
});

const KEYS = { ArrowLeft: "light", ArrowRight: "heavy", ArrowUp: "lead", ArrowDown: "undo", Backspace: "undo" };

document.addEventListener("keydown", (event) => {
  if (event.repeat || event.altKey || event.ctrlKey || event.metaKey || $("count").hidden) return;
  if (event.target.matches("input, textarea, select")) return;
  let what = KEYS[event.key];
  if (!what) return;
  if (document.body.classList.contains("left-handed")) what = { light: "heavy", heavy: "light" }[what] ?? what;
  event.preventDefault();
  press(what);
});

// ---- what is shown ----

function show() {
  const now = counted();
  askAgain();
  const signed = line.told?.signed ?? null;
  const isSigned = signed !== null || waitingSignature() !== null;
  const hasBegun = now.start_ms !== null || now.taps.length > 0 || (line.told?.began_ms ?? null) !== null;
  const page = isSigned && !mayRevise ? "signed" : isReading ? "readback" : hasBegun ? "count" : "ready";
  ["ready", "count", "readback", "signed"].forEach((name) => { $(name).hidden = name !== page; });
  document.body.classList.toggle("is-counting", page === "count");
  showLine();
  if (page === "count") showCount(now);
  if (page === "readback") showReadback(now);
  if (page === "signed") showSigned(signed, now);
  hold(page === "count");
}

const WORDS = {
  sent: () => "all sent",
  waiting: (kept) => (kept ? `sending ${kept}` : "finding the server"),
  "no signal": (kept) => `no signal · ${kept} kept here`,
  closed: (kept) => `not taken · ${kept} kept here`,
  "no link": (kept) => `link over · ${kept} kept here`,
  "too fast": (kept) => `too fast · ${kept} kept here`,
};

let saidState = "";

function showLine() {
  const kept = log.unsent.length;
  $$("line").forEach((one) => {
    one.textContent = WORDS[line.state](kept);
    one.dataset.state = line.state;
  });
  const pads = Object.keys(counted().by_device);
  const ahead = log.own.some((event) => event.is_ahead);
  const alarms = [
    !log.isKept && "This browser keeps nothing (a private window, or it is full): do not close this page before it is signed.",
    line.state === "closed" && `${line.why} Everything is kept on this device.`,
    line.state === "no link" &&
      "Your link is over or was withdrawn. Everything is kept on this device: ask the organiser for a new link, open it here, and it is sent.",
    line.state === "too fast" && line.why,
    pads.length > 1 && devices === null && `You are counting on ${pads.length} devices. Both are kept; you choose when you read it back.`,
    !$("count").hidden && line.told?.ended_ms && "The steward saw this touch end. “That’s all” reads it back; touches still count until you sign.",
    ahead && "This device’s clock jumped. What you touched counts; its moment is taken from when it arrived.",
    log.own.some(isRefused) && `Not taken: ${log.own.find(isRefused).refused}`,
  ].filter(Boolean);
  const said = alarms.join(" ");
  if (said !== saidState) $("alert").textContent = saidState = said;
}

function showCount(now) {
  const at_ms = clock_ms() + line.offset_ms;
  const begun = now.start_ms !== null;
  const change = changeAt(now, at_ms, pad);
  $("change").textContent = begun ? change : "–";
  $("lead").textContent = begun ? "Lead" : "First change";
  $("lead-note").textContent = begun ? "touch at a lead head, if you like" : "touch as it is rung; you may count without";
  document.querySelector('[data-press="lead"]').hidden = begun && !pad.heads.length;
  $("total").textContent = figure(now.lost);
  const own = (faults) => now.taps.filter((tap) => tap.faults === faults).length;
  gates($("light-gates"), own(pad.light));
  gates($("heavy-gates"), own(pad.heavy));
}

// Touches as strokes, four and one across.
function gates(where, count) {
  if (Number(where.dataset.count) === count) return;
  where.dataset.count = count;
  const shown = Math.min(count, 200);
  where.replaceChildren(...Array.from({ length: Math.ceil(shown / 5) }, (_, i) => {
    const gate = document.createElement("span");
    gate.className = `gate g${Math.min(shown - 5 * i, 5)}`;
    return gate;
  }));
}

setInterval(() => !$("count").hidden && showCount(counted()), 250);

// ---- reading back ----

function showReadback(now) {
  const pads = Object.keys(tally(events(), pad, null, null).by_device);
  $("pads").hidden = pads.length < 2;
  if (pads.length > 1) showPads(pads);
  $("sum").textContent = now.total === null ? figure(now.lost) : figure(now.total);
  $("sum-unit").textContent = now.total === null ? "noted" : pad.unit;
  $("mark-field").hidden = now.total !== null;
  $("reason-field").hidden = !mayRevise && !question();
  $("reason-label").textContent = mayRevise ? "Why the sheet is changed" : "It is as I heard it, because";
  if (document.activeElement !== $("comment") && !$("comment").dataset.typed) $("comment").value = now.comment;
  const rows = new Map();
  now.lines.forEach((one) => rows.set(one.change, [...(rows.get(one.change) ?? []), one]));
  const body = $("rows");
  const focused = document.activeElement?.dataset?.change;
  const deed = document.activeElement?.dataset?.deed;
  body.replaceChildren(...[...rows].sort(([a], [b]) => a - b).flatMap(([change, lines], i, all) => {
    const head = leadOf(change);
    const first = i === 0 || leadOf(all[i - 1][0]) !== head;
    return [...(first && pad.heads.length ? [leadRow(head)] : []), rowOf(change, lines, now)];
  }));
  if (!rows.size) body.replaceChildren(emptyRow());
  if (focused) body.querySelector(`[data-change="${focused}"][data-deed="${deed}"]`)?.focus();
  const corrected = now.corrections.length;
  $("corrected").textContent = corrected ? `Corrected since: ${corrected}.` : "";
}

function leadOf(change) {
  return pad.heads.filter((head) => head <= change).length + 1;
}

function cell(tag, text, name) {
  const made = document.createElement(tag);
  made.textContent = text;
  if (name) made.className = name;
  return made;
}

function leadRow(number) {
  const row = document.createElement("tr");
  const head = cell("th", `Lead ${number}`, "lead");
  head.colSpan = 3;
  head.scope = "rowgroup";
  row.append(head);
  return row;
}

function emptyRow() {
  const row = document.createElement("tr");
  const only = cell("td", "Nothing charged.", "soft");
  only.colSpan = 3;
  row.append(only);
  return row;
}

function rowOf(change, lines, now) {
  const row = document.createElement("tr");
  const sum = Math.round(lines.reduce((all, one) => all + one.faults, 0) * 1000) / 1000;
  const head = cell("th", `${change}`);
  head.scope = "row";
  const figures = cell("td", figure(sum), "sum");
  if (now.corrections.some((one) => one.change === change)) figures.append(cell("span", " corrected", "soft"));
  const deeds = document.createElement("td");
  deeds.className = "deeds";
  [["less", "−", -pad.light], ["more", "+", pad.light]].forEach(([deed, sign, by]) => {
    const button = cell("button", sign);
    button.type = "button";
    Object.assign(button.dataset, { change, deed });
    button.setAttribute("aria-label", `${deed} at change ${change}`);
    button.addEventListener("click", () => correct(change, Math.max(sum + by, 0)));
    deeds.append(button);
  });
  row.append(head, figures, deeds);
  return row;
}

function correct(change, faults) {
  const why = $("why");
  if (!why.value.trim()) {
    $("correcting").open = true;
    $("why-wrong").hidden = false;
    why.setAttribute("aria-invalid", "true");
    why.focus();
    return;
  }
  $("why-wrong").hidden = true;
  why.removeAttribute("aria-invalid");
  add({ kind: "correct", change, faults: Math.round(faults * 1000) / 1000, text: why.value.trim() });
}

$("add-row").addEventListener("click", () => {
  const change = Number($("add-change").value);
  if (!Number.isInteger(change) || change < 1 || (pad.changes !== null && change > pad.changes)) {
    $("add-change").setAttribute("aria-invalid", "true");
    $("add-change").focus();
    return;
  }
  $("add-change").removeAttribute("aria-invalid");
  const there = counted().lines.filter((one) => one.change === change).reduce((sum, one) => sum + one.faults, 0);
  correct(change, there + pad.light);
});

function showPads(pads) {
  const field = $("pads-choice");
  if (field.childElementCount === pads.length + 1) return;
  const choices = [[null, "Both together, as one went on where the other stopped"],
    ...pads.map((one) => [[one], one === log.device ? "Only this device" : `Only the other device (${one})`])];
  field.replaceChildren(...choices.map(([chosen, words], i) => {
    const label = document.createElement("label");
    label.className = "choice";
    const input = document.createElement("input");
    Object.assign(input, { type: "radio", name: "pads", checked: i === 0 });
    input.addEventListener("change", () => { devices = chosen; show(); });
    const total = tally(events(), pad, null, chosen);
    label.append(input, ` ${words}: ${figure(total.total ?? total.lost)}`);
    return label;
  }));
}

$("comment").addEventListener("input", (event) => { event.target.dataset.typed = "yes"; });
$("comment").addEventListener("change", (event) => {
  delete event.target.dataset.typed;
  add({ kind: "comment", text: event.target.value });
});

// Words that are being typed are kept too when the page goes out of sight, which may be for good.
document.addEventListener("visibilitychange", () => {
  const words = $("comment");
  if (document.visibilityState === "visible" || !words.dataset.typed) return;
  delete words.dataset.typed;
  add({ kind: "comment", text: words.value });
});

$("back").addEventListener("click", () => {
  const stop = log.own.filter((event) => event.kind === "stop").at(-1);
  isReading = false;
  if (stop) add({ kind: "undo", of: stop.id });
  show();
});

$("sign").addEventListener("submit", (event) => {
  event.preventDefault();
  const now = counted();
  const total = now.total ?? Number($("mark").value.replace(",", ".").replace("½", ".5"));
  const isMark = now.total !== null || ($("mark").value.trim() !== "" && Number.isFinite(total) && total >= 0
    && (pad.most === null || total <= pad.most));
  if (!isMark || (mayRevise && !$("reason").value.trim())) {
    const field = isMark ? $("reason") : $("mark");
    field.setAttribute("aria-invalid", "true");
    $("sign-wrong").textContent = isMark ? "Say why the sheet is changed." : `Give the mark${pad.most === null ? "" : `, from 0 to ${pad.most}`}.`;
    field.focus();
    return;
  }
  $("sign-wrong").textContent = "";
  const sheet = { lines: now.lines, total, comment: $("comment").value, reason: mayRevise || question() ? $("reason").value.trim() : "" };
  isReading = false;
  mayRevise = false;
  hasSigned = true;
  add({ kind: "sign", sheet });
  buzz("stop");
  $("signed-title").focus();
});

// A signature that was not taken, for as long as nothing was signed after it.
function refusedSignature() {
  const last = log.own.filter((event) => event.kind === "sign").sort((a, b) => a.seq - b.seq).at(-1);
  return last?.refused ? last : null;
}

function question() {
  return refusedSignature()?.refused ?? "";
}

function isRefused(event) {
  return event.refused && (event.kind !== "sign" || event === refusedSignature());
}

// What the server asks about a signature is answered where it was signed: the sheet is read back once more.
function askAgain() {
  const refused = refusedSignature();
  if (!refused || refused.id === asked || (line.told?.signed && !hasSigned)) return;
  asked = refused.id;
  isReading = true;
  mayRevise = Boolean(line.told?.signed);
  $("sign-wrong").textContent = refused.refused;
  if (document.activeElement !== $("comment")) setTimeout(() => $("reason").focus());
}

// ---- signed ----

function waitingSignature() {
  return log.own.filter((event) => event.kind === "sign" && !event.is_sent && !event.refused).at(-1) ?? null;
}

function showSigned(signed, now) {
  const waiting = waitingSignature();
  const total = waiting ? figure(waiting.sheet.total) : signed.total;
  $("signed-total").textContent = total;
  $("signed-words").textContent = waiting
    ? "Signed on this device. It is sent as soon as there is signal; you may close this page and open it again."
    : `Signed and kept${signed.revision > 1 ? `, version ${signed.revision}` : ""}. The organiser has it.`;
  $("signed-late").hidden = !signed?.late || waiting !== null;
  $("signed-late").textContent = signed?.late
    ? `${signed.late} more ${signed.late === 1 ? "touch has" : "touches have"} come in since it was signed, and ${signed.late === 1 ? "does" : "do"} not count. Revise the sheet if ${signed.late === 1 ? "it" : "they"} should.`
    : "";
  $("onwards").hidden = waiting !== null;
  $("revise").hidden = waiting !== null || !now.lines.length;
}

$("revise").addEventListener("click", () => {
  mayRevise = true;
  isReading = true;
  show();
  $("readback-title").focus();
});

// ---- as the judge likes it ----

function preference(name, apply) {
  const box = $(name);
  const key = `evenblow:like:${name}`;
  try { box.checked = localStorage.getItem(key) === "yes"; } catch { /* as it comes */ }
  const set = () => document.body.classList.toggle(apply, box.checked);
  box.addEventListener("change", () => {
    set();
    try { localStorage.setItem(key, box.checked ? "yes" : ""); } catch { /* for this time only */ }
  });
  set();
}

preference("left-handed", "left-handed");
preference("by-day", "by-day");
preference("hide-total", "total-hidden");

$("show-total").addEventListener("click", () => {
  const hidden = document.body.classList.toggle("total-hidden");
  $("show-total").setAttribute("aria-pressed", String(hidden));
});

// The screen stays on while counting, where the browser allows it.
let lock = null;
document.addEventListener("visibilitychange", () => { lock = null; show(); }); // a page out of sight has lost it
async function hold(isWanted) {
  if (isWanted === (lock !== null) || !navigator.wakeLock) return;
  lock = isWanted ? {} : (lock.release?.(), null);
  if (isWanted) lock = await navigator.wakeLock.request("screen").catch(() => null);
}

// Where the browser allows it, the page is kept to be opened without signal: fetched once more, now past the worker.
async function keepPage() {
  await navigator.serviceWorker.register("/pad-worker.js");
  await navigator.serviceWorker.ready;
  if (!navigator.serviceWorker.controller) await new Promise((done) => navigator.serviceWorker.addEventListener("controllerchange", done, { once: true }));
  const parts = performance.getEntriesByType("resource").map((one) => one.name).filter((name) => name.includes("/static/"));
  await Promise.all([location.href, ...new Set(parts)].map((address) => fetch(address)));
}

if ("serviceWorker" in navigator) keepPage().catch(() => {}); // without signal, or not allowed: as it was

log.recover().then(show);
line.begin();
isReading = counted().stop_ms !== null;
show();
