// Lets the laptop listen for pull-offs with nobody touching it: microphone → blocks → the service, which hears them.
// While bells ring the page is dark, unless somebody touches it. What was heard comes by itself. Blocks wait here while
// the service is away. A microphone that is taken away is waited for, and a laptop that slept goes on where it woke.

const section = document.querySelector("[data-listen]");
const standing = document.querySelector("#standing");
const worklet = document.currentScript.dataset.worklet;
const address = section.dataset.listen;

const WAITING_MOST = 120; // a minute; older sound is let go, and the service is told by the numbers
const AGAIN_MS = 1000;
const SILENT_LEVEL = 0.0001;
const SLEPT_MS = 2000; // blocks of half a second that come so far apart have lost some between them
const LOOKED_MS = 10000; // how long a page that was touched while bells ring is not dark
const READY_MS = 60000; // how often the service is asked, at most, to have an ear at hand
const STILL_MS = 3000; // a microphone that gives nothing for so long, not even silence, has stopped
const LOOK_AGAIN_MS = 3000; // how often a microphone that was taken away is looked for

const button = document.createElement("button");
button.type = "button";
button.className = "button";
button.textContent = "Listen";
const level = document.createElement("progress");
level.className = "level";
level.max = 1;
level.hidden = true;
level.setAttribute("aria-label", "How loud the microphone is");
standing.after(button, level);

let listening = null; // what is open while we listen: the microphone, the sound's path, blocks that wait
let missing = false; // whether a microphone that was taken away is waited for
let told = 0;

function say(words) {
  if (standing.textContent !== words) standing.textContent = words;
}

function darken(isRinging) {
  document.documentElement.toggleAttribute("data-ringing", isRinging);
}

// Somebody at the laptop may want to stop listening, or to know why it is dark.
let looking = 0;
function look() {
  document.documentElement.toggleAttribute("data-looked-at", true);
  clearTimeout(looking);
  looking = setTimeout(() => document.documentElement.removeAttribute("data-looked-at"), LOOKED_MS);
}
document.addEventListener("keydown", look);
document.addEventListener("pointerdown", look);

// An ear takes seconds to begin, so one is asked for while somebody is still reading.
let asked = -READY_MS;
function makeReady() {
  if (listening || !navigator.mediaDevices || performance.now() - asked < READY_MS) return;
  asked = performance.now();
  post("streams/ready", "", "application/json").catch(() => {});
}
window.addEventListener("focus", makeReady);
document.addEventListener("pointermove", makeReady);

async function open() {
  if (!navigator.mediaDevices?.getUserMedia || !window.AudioWorkletNode) {
    throw new Error("This browser gives no microphone to a page that is not on this laptop itself. Open the page on the laptop, at localhost, or record the pull-offs and send the recording.");
  }
  // Made for speech, these would take bells for noise. Of two microphones the service finds out which is best heard.
  const wanted = { echoCancellation: false, noiseSuppression: false, autoGainControl: false, channelCount: 2 };
  let stream;
  try {
    stream = await navigator.mediaDevices.getUserMedia({ audio: wanted });
  } catch (problem) {
    throw new Error(
      problem.name === "NotFoundError"
        ? "No microphone was found. Plug one in, and listen again."
        : problem.name === "NotReadableError"
        ? "The microphone cannot be opened. Is another program using it? Close that one, and listen again."
        : "The browser was not allowed to use the microphone. Allow it for this page, by the sign beside its address, and listen again.",
    );
  }
  const context = new AudioContext();
  await context.resume();
  await context.audioWorklet.addModule(worklet);
  const channels = Math.min(2, stream.getAudioTracks()[0].getSettings().channelCount ?? 1);
  const node = new AudioWorkletNode(context, "blocks", { numberOfOutputs: 0, channelCount: channels, channelCountMode: "explicit" });
  context.createMediaStreamSource(stream).connect(node);
  const opened = { stream, context, node, channels, blocks: [], next: 0, name: "", isOpen: true, at: 0, cameAt: performance.now() };
  node.port.addEventListener("message", (event) => keep(opened, event.data));
  node.port.start();
  stream.getAudioTracks()[0].addEventListener("ended", () => lose(opened));
  return opened;
}

function keep(opened, { buffer, at }) {
  if (opened.at && at - opened.at > SLEPT_MS) opened.next += 1; // a number left out says that sound is missing
  opened.at = at;
  opened.cameAt = performance.now();
  opened.blocks.push({ number: opened.next, buffer });
  opened.next += 1;
  if (opened.blocks.length > WAITING_MOST) opened.blocks.shift();
  let loudest = 0;
  for (const sample of new Int16Array(buffer)) loudest = Math.max(loudest, Math.abs(sample));
  // Decibels: a meter that stands still for all but the loudest says nothing.
  level.value = Math.max(0, 1 + Math.log10(Math.max(loudest / 32768, SILENT_LEVEL)) / 4);
}

async function post(path, body, type) {
  const answer = await fetch(`${address}/${path}`, { method: "POST", body, headers: { "content-type": type, accept: "application/json" } });
  const said = await answer.json();
  if (answer.ok) return said;
  const refused = new Error(said.error ?? "The service did not understand.");
  refused.status = answer.status;
  throw refused;
}

async function beginStream(opened) {
  const begun = await post("streams", JSON.stringify({ rate_hz: opened.context.sampleRate, channels: opened.channels }), "application/json");
  // Numbers go on from nought for the new stream, whatever waits.
  opened.name = begun.stream;
  opened.next = 0;
  for (const block of opened.blocks) {
    block.number = opened.next;
    opened.next += 1;
  }
  told = 0;
}

// Sends blocks one after another, each until it has arrived.
async function send(opened) {
  while (opened.isOpen) {
    if (!opened.blocks.length) {
      if (performance.now() - opened.cameAt > STILL_MS) wake(opened);
      await new Promise((resolve) => setTimeout(resolve, 100));
      continue;
    }
    try {
      if (!opened.name) await beginStream(opened);
      const block = opened.blocks[0];
      const now = await post(`streams/${opened.name}/blocks/${block.number}`, block.buffer, "application/octet-stream");
      if (opened.blocks[0] === block) opened.blocks.shift();
      if (opened.isOpen) show(now);
    } catch (problem) {
      if (problem.status === 404) {
        opened.name = ""; // the service was started anew; so is the listening
      } else if (problem.status && problem.status !== 503) {
        stop(problem.message);
      } else {
        darken(false);
        if (!problem.status) say(`The service does not answer; ${Math.round(opened.blocks.length / 2)} s of sound wait for it here.`);
      }
      await new Promise((resolve) => setTimeout(resolve, AGAIN_MS));
    }
  }
}

function show(now) {
  darken(now.ringing);
  if (now.ringing) {
    say("Ringing. What it was like is told once you stand.");
  } else {
    say(
      !now.ready
        ? "Getting ready to listen …"
        : now.silent
        ? "The microphone gives nothing at all. Is it switched on, and the right one? Nothing heard before is lost."
        : "Listening. Look to, and pull off when you are ready; it is told once you stand.",
    );
  }
  if (now.told !== told) {
    told = now.told;
    refresh().then(comeToIt);
  }
}

// The sound's path may be held up, by a laptop that slept or a system that gave the microphone to another program.
function wake(opened) {
  darken(false);
  say("The microphone has stopped: did the laptop sleep, or has another program taken it? What was heard is kept, and it goes on by itself once there is sound again.");
  if (opened.context.state !== "running") opened.context.resume().catch(() => {});
}

async function begin() {
  const isAgain = missing;
  button.disabled = !isAgain;
  if (!isAgain) say("Opening the microphone …");
  try {
    listening = await open();
  } catch (problem) {
    if (!isAgain) say(problem.message);
    button.disabled = false;
    return;
  }
  if (isAgain && !missing) return close(); // somebody has stopped it meanwhile
  missing = false;
  button.disabled = false;
  button.textContent = "Stop listening";
  level.hidden = false;
  sessionStorage.setItem(`listens ${address}`, "yes");
  stayAwake();
  send(listening);
}

// The microphone is gone, and not the evening: it is looked for until there is one again, or somebody stops it.
async function lose(opened) {
  if (listening !== opened) return;
  close();
  missing = true;
  say("The microphone was taken away. What was heard is kept. Plug it in again, or close the program that uses it, and listening goes on by itself.");
  while (missing) {
    await new Promise((resolve) => setTimeout(resolve, LOOK_AGAIN_MS));
    if (missing) await begin();
  }
}

// A laptop that sleeps hears nothing; one whose page was hidden has to be asked again.
function stayAwake() {
  if (listening && !document.hidden) navigator.wakeLock?.request("screen").catch(() => {});
}
document.addEventListener("visibilitychange", stayAwake);

function close() {
  listening.isOpen = false;
  listening.stream.getTracks().forEach((track) => track.stop());
  listening.context.close();
  listening = null;
  darken(false);
  level.hidden = true;
}

function stop(words) {
  if (listening) close();
  missing = false;
  button.textContent = "Listen";
  sessionStorage.removeItem(`listens ${address}`);
  post("streams/stop", "", "application/json").catch(() => {});
  say(words);
}

// Brings what was told up to date, and leaves what somebody may be typing as it is.
async function refresh() {
  const answer = await fetch(location.href, { headers: { accept: "text/html" } });
  if (!answer.ok) return;
  const now = new DOMParser().parseFromString(await answer.text(), "text/html");
  for (const part of ["#told", "#aim"]) {
    const [old, fresh] = [document.querySelector(part), now.querySelector(part)];
    const plays = old.querySelector("audio");
    if (!plays || plays.paused) {
      fresh.querySelectorAll("details").forEach((one, at) => (one.open = old.querySelectorAll("details")[at]?.open ?? false));
      old.replaceWith(fresh);
    }
  }
}

// Nobody is there to scroll: what was told last comes to the top of the screen, to be read from the ropes.
function comeToIt() {
  document.querySelector("#told").scrollIntoView();
}

button.addEventListener("click", () => (listening || missing ? stop("Not listening any more. What was heard is kept.") : begin()));
new EventSource(section.dataset.changes).addEventListener("message", refresh);

// After the page was loaded again it goes on as before.
if (sessionStorage.getItem(`listens ${address}`)) begin().then(comeToIt);
else makeReady();
