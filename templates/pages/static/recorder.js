// Records a touch with this laptop, in slices: each is kept on the laptop first and let go when the service has it on
// its disk. A closed lid, a lost signal or a reload loses nothing that was recorded.

const place = document.querySelector("[data-recorder]");
const says = document.querySelector("#recorder-says");
const SLICE_MS = 2000;
const AGAIN_MS = 2500;
// Made for speech, these would take bells for noise.
const SOUND = { echoCancellation: false, noiseSuppression: false, autoGainControl: false };

// ---- what waits on this laptop ----

const opened = new Promise((resolve, reject) => {
  const request = indexedDB.open("evenblow-takes", 1);
  request.onupgradeneeded = () => {
    request.result.createObjectStore("slices", { keyPath: ["take", "number"] });
    request.result.createObjectStore("takes", { keyPath: "take" });
  };
  request.onsuccess = () => resolve(request.result);
  request.onerror = () => reject(request.error);
});

async function withStore(name, mode, act) {
  const database = await opened;
  return new Promise((resolve, reject) => {
    const change = database.transaction(name, mode, { durability: "strict" });
    const request = act(change.objectStore(name));
    change.oncomplete = () => resolve(request.result);
    change.onabort = change.onerror = () => reject(change.error);
  });
}

const keep = (name, value) => withStore(name, "readwrite", (store) => store.put(value));
const drop = (name, key) => withStore(name, "readwrite", (store) => store.delete(key));
const all = (name) => withStore(name, "readonly", (store) => store.getAll());

// ---- sending ----

const LATER = "later";
let sending = false;
let asked = false;

async function send() {
  asked = true;
  if (sending) return;
  sending = true;
  while (asked) {
    asked = false;
    if ((await sendWaiting()) === LATER) setTimeout(send, AGAIN_MS);
  }
  sending = false;
}

async function sendWaiting() {
  for (const slice of await all("slices")) {
    const answer = await post(`${slice.address}/${slice.take}/${slice.number}`, slice.blob);
    if (!answer?.ok) return refused(answer);
    await drop("slices", [slice.take, slice.number]);
  }
  for (const take of await all("takes")) {
    if (take.slices === undefined || take.address !== place.dataset.recorder) continue;
    const answer = await post(`${take.address}/${take.take}`, new URLSearchParams({ slices: take.slices, what: "join" }));
    if (!answer?.ok) return refused(answer);
    await drop("takes", take.take);
    location.assign(take.address);
  }
  return true;
}

async function post(address, body) {
  try {
    return await fetch(address, { method: "POST", body, headers: { accept: "application/json, */*;q=0.1" } });
  } catch {
    return null;
  }
}

// What cannot be reached is tried again; what is refused stays here until the page is opened again.
async function refused(answer) {
  if (answer === null || answer.status >= 500) {
    says.textContent = "The service cannot be reached; what was recorded waits here and is sent later.";
    return LATER;
  }
  const told = answer.headers.get("content-type")?.includes("json") ? (await answer.json()).error : "";
  says.textContent = told || "The service did not take what was recorded; it waits here. Is this page still open to you?";
  return false;
}

// ---- recording ----

const button = document.createElement("button");
let recorder = null;
let take = null;
let awake = null;

async function begin() {
  const stream = await navigator.mediaDevices.getUserMedia({ audio: SOUND });
  const name = [...crypto.getRandomValues(new Uint8Array(16))].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  take = { take: name, address: place.dataset.recorder, began: Date.now(), number: 0 };
  await keep("takes", { take: name, address: take.address, began: take.began });
  let last = Promise.resolve();
  recorder = new MediaRecorder(stream);
  recorder.addEventListener("dataavailable", (event) => {
    if (event.data.size === 0) return;
    const slice = { take: name, number: take.number++, address: take.address, blob: event.data };
    last = last.then(() => keep("slices", slice)).then(() => void send());
    says.textContent = `Recording, ${clock(Date.now() - take.began)}. Look to …`;
  });
  recorder.addEventListener("stop", async () => {
    stream.getTracks().forEach((track) => track.stop());
    await awake?.release().catch(() => {});
    await last;
    await keep("takes", { take: name, address: take.address, began: take.began, slices: take.number });
    recorder = null;
    says.textContent = "Sending what is left …";
    void send();
  });
  stream.getAudioTracks()[0].addEventListener("ended", () => recorder?.state === "recording" && recorder.stop());
  recorder.start(SLICE_MS);
  awake = await navigator.wakeLock?.request("screen").catch(() => null);
  button.textContent = "Stop and hear it";
  says.textContent = "Recording. Look to …";
}

function clock(ms) {
  const seconds = Math.round(ms / 1000);
  return `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
}

function offer() {
  button.type = "button";
  button.className = "button";
  button.textContent = "Record with this laptop";
  button.addEventListener("click", () => {
    if (recorder) {
      button.disabled = true;
      recorder.stop();
      return;
    }
    begin().catch(() => {
      says.textContent = "The browser was not allowed to use a microphone, or found none. Send a file instead.";
    });
  });
  place.insertBefore(button, says);
  says.textContent = "From before the pull-off to the stand.";
  window.addEventListener("beforeunload", (event) => recorder && event.preventDefault());
}

// A take broken off by a reload or a closed lid ends with the last slice that was kept.
async function takeUp() {
  const waiting = await all("slices");
  for (const broken of await all("takes")) {
    if (broken.slices === undefined && !waiting.some((slice) => slice.take === broken.take)) await drop("takes", broken.take);
  }
  if (waiting.length) says.textContent = `${waiting.length} slices recorded before wait to be sent …`;
  await send();
  if (waiting.length && !(await all("slices")).length && !recorder) location.reload();
}

if (place) {
  if (navigator.mediaDevices?.getUserMedia && window.MediaRecorder) offer();
  window.addEventListener("online", () => void send());
  void takeUp();
}
