// Makes a fault sheet's links play at once, and its map walkable with the arrow keys.
// Without this script the same links load the page at that time.

const audio = document.querySelector("#player audio");
const playing = document.querySelector("#playing");

function minutes(time_s) {
  const whole = Math.floor(time_s);
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
}

// Says something after the name of what is playing.
function say(words) {
  playing.replaceChildren(playing.querySelector("strong"), words);
}

// Marks the fault that a link leads to, on the map and in the list, and returns its sentence.
function mark(id) {
  document.querySelectorAll('[aria-current="true"]').forEach((marked) => marked.removeAttribute("aria-current"));
  document.querySelectorAll(`.map a[href$="#${id}"]`).forEach((link) => link.parentElement.setAttribute("aria-current", "true"));
  const line = document.getElementById(id);
  if (!line?.matches(".faults li")) return "";
  line.setAttribute("aria-current", "true");
  return line.querySelector("a").textContent;
}

document.addEventListener("click", (event) => {
  const link = event.target.closest("a[data-at]");
  if (!link || event.ctrlKey || event.metaKey || event.shiftKey) return;
  event.preventDefault();
  const at_s = Number(link.dataset.at);
  audio.currentTime = at_s;
  audio.play().catch(() => {}); // a browser may want another touch before it plays
  const sentence = mark(link.hash.slice(1));
  say(`, from ${minutes(at_s)}${sentence ? `: ${sentence}` : "."}`);
  history.replaceState(null, "", link.href);
});

// Another way of hearing the band goes on from where this one is.
document.querySelectorAll("a[data-sound]").forEach((link) => {
  link.addEventListener("click", () => {
    const address = new URL(link.href);
    if (audio.currentTime) address.searchParams.set("at", audio.currentTime.toFixed(2));
    link.href = address.href;
  });
});

const map = document.querySelector(".map");

map.addEventListener("focusin", (event) => {
  if (event.target.title) say(`: ${event.target.title}`);
});

// The link above or below: the nearest place in the nearest row that has one.
function beside(link, step) {
  const rows = [...map.querySelectorAll("tbody tr")];
  const place = link.parentElement.cellIndex;
  for (let at = rows.indexOf(link.closest("tr")) + step; rows[at]; at += step) {
    const links = [...rows[at].querySelectorAll("a")];
    if (!links.length) continue;
    const away = (found) => Math.abs(found.parentElement.cellIndex - place);
    return links.reduce((best, found) => (away(found) < away(best) ? found : best));
  }
  return null;
}

map.addEventListener("keydown", (event) => {
  const link = event.target.closest("a");
  if (!link || event.altKey || event.ctrlKey || event.metaKey) return;
  const links = [...map.querySelectorAll("tbody a")];
  const next = {
    ArrowLeft: () => links[links.indexOf(link) - 1],
    ArrowRight: () => links[links.indexOf(link) + 1],
    ArrowUp: () => beside(link, -1),
    ArrowDown: () => beside(link, 1),
  }[event.key]?.();
  if (!next) return;
  event.preventDefault();
  next.focus();
});
