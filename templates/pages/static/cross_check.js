// Plays a difference at once, and stops soon after it. Without this script the same links load the page at that time.

const audio = document.querySelector("#player audio");
const playing = document.querySelector("#playing");
let until_s = Infinity;

document.addEventListener("click", (event) => {
  const link = event.target.closest("a[data-at]");
  if (!link || event.ctrlKey || event.metaKey || event.shiftKey) return;
  event.preventDefault();
  until_s = Number(link.dataset.until);
  audio.currentTime = Number(link.dataset.at);
  audio.play().catch(() => {}); // a browser may want another touch before it plays
  document.querySelectorAll(".differences [aria-current]").forEach((one) => one.removeAttribute("aria-current"));
  const line = link.closest("li");
  line.setAttribute("aria-current", "true");
  playing.textContent = line.querySelector(".what").textContent;
});

audio.addEventListener("timeupdate", () => {
  if (audio.currentTime < until_s) return;
  audio.pause();
  until_s = Infinity;
});
