// Keeps an open desk as it is now. Without this script the page is as it was when it was opened.

const source = new EventSource(document.querySelector("[data-changes]").dataset.changes);

// What somebody is just typing is never taken away: the page is brought up to date when they are done.
function isBusy() {
  const active = document.activeElement;
  return active?.matches("input, select, textarea") || [...document.querySelectorAll("details")].some((one) => one.open);
}

let isBehind = false;

async function refresh() {
  if (isBusy()) {
    isBehind = true;
    return;
  }
  isBehind = false;
  const answer = await fetch(location.href, { headers: { accept: "text/html" } });
  if (!answer.ok) return;
  const now = new DOMParser().parseFromString(await answer.text(), "text/html");
  const focused = document.activeElement?.getAttribute("href");
  document.querySelector("main").replaceWith(now.querySelector("main"));
  if (focused) document.querySelector(`main a[href="${CSS.escape(focused)}"]`)?.focus({ preventScroll: true });
}

source.addEventListener("message", refresh);
document.addEventListener("focusout", () => isBehind && setTimeout(refresh, 200));
document.addEventListener("toggle", () => isBehind && refresh(), true);
