// Notes taps on the clock of the sound itself, so that nothing is to be said of the browser's own clock.
// Without this script rows are ticked instead.

const audio = document.querySelector(".ear-test audio");
const form = document.querySelector(".ear-test");
const noted = document.querySelector("#noted");
const takeBack = document.querySelector("#take-back");
const taps = form.elements.taps.value.split(" ").filter(Boolean);
let until_s = Number(form.elements.until.value) || 0;

function show() {
  const words = taps.length === 1 ? "One noted." : `${taps.length} noted.`;
  noted.textContent = taps.length ? words : "Nothing noted yet.";
  takeBack.hidden = !taps.length;
  form.elements.taps.value = taps.join(" ");
  form.elements.until.value = until_s.toFixed(2);
}

function tap() {
  if (audio.paused && !audio.ended) {
    noted.textContent = "Begin the sound first.";
    return;
  }
  taps.push(audio.currentTime.toFixed(3));
  until_s = Math.max(until_s, audio.currentTime);
  show();
}

document.querySelector("#tapping").hidden = false;
document.querySelector("#by-row").open = false;
document.querySelector("#tap").addEventListener("pointerdown", tap);

// The space bar taps wherever the focus is, but where it means something else already; on the button Enter does too.
const elsewhere = "input, select, textarea, summary, a, audio, button:not(#tap)";
document.addEventListener("keydown", (event) => {
  const isTap = event.key === " " ? !event.target.matches(elsewhere) : event.key === "Enter" && event.target.id === "tap";
  if (!isTap) return;
  event.preventDefault();
  if (!event.repeat) tap();
});
document.querySelector("#tap").addEventListener("keyup", (event) => event.preventDefault()); // or some click as well

takeBack.addEventListener("click", () => {
  taps.pop();
  show();
});

audio.addEventListener("timeupdate", () => {
  until_s = Math.max(until_s, audio.currentTime);
  form.elements.until.value = until_s.toFixed(2);
});

show();
