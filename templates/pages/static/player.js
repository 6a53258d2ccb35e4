// Makes the fault sheet's links play at once. Without this script the same links load the page at that time.

const audio = document.querySelector("#player audio");
const playing = document.querySelector("#playing");

function minutes(time_s) {
  const whole = Math.floor(time_s);
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
}

function mark(id) {
  document.querySelectorAll('[aria-current="true"]').forEach((marked) => marked.removeAttribute("aria-current"));
  const line = document.getElementById(id);
  if (!line) return "";
  line.setAttribute("aria-current", "true");
  document.querySelectorAll(`td a[href$="#${id}"]`).forEach((link) => link.parentElement.setAttribute("aria-current", "true"));
  return line.querySelector("a")?.textContent ?? "";
}

document.addEventListener("click", (event) => {
  const link = event.target.closest("a[data-at]");
  if (!link || event.ctrlKey || event.metaKey || event.shiftKey) return;
  event.preventDefault();
  const at_s = Number(link.dataset.at);
  audio.currentTime = at_s;
  audio.play().catch(() => {}); // a browser may want a second touch before it plays
  const sentence = mark(link.hash.slice(1));
  playing.textContent = `From ${minutes(at_s)}${sentence ? `: ${sentence}` : "."}`;
  history.replaceState(null, "", link.href);
});
