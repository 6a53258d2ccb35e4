// Opens pads without signal, where the browser allows it (https, or this machine itself): what was opened once is kept,
// and shown again when the server cannot be reached. Nothing else is ever answered from here.

const SHELF = "evenblow-pad-1";
const PAGES = [/^\/$/, /^\/contests\/[^/]+\/judging$/, /^\/contests\/[^/]+\/bands\/[^/]+\/pad$/];

function isKept(request, url) {
  if (request.method !== "GET" || url.origin !== location.origin) return false;
  return url.pathname.startsWith("/static/") || PAGES.some((page) => page.test(url.pathname));
}

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (isKept(event.request, url)) event.respondWith(answer(event.request));
});

// The server's own answer if there is one, and otherwise what it last said.
async function answer(request) {
  const shelf = await caches.open(SHELF);
  try {
    const fresh = await fetch(request);
    if (fresh.ok) await shelf.put(request, fresh.clone());
    return fresh;
  } catch (lost) {
    const kept = await shelf.match(request);
    if (kept) return kept;
    throw lost;
  }
}
