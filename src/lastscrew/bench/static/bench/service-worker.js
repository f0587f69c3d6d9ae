/* Keeps the work page usable without the network. VERSION and FILES are written above by the server.

   Kept: style sheets and scripts of this release, and the shell of each work page that was opened. The job
   itself and every tap are kept by the page. Nothing else of the application is kept, and all of it is
   forgotten when somebody signs out. */
const STATIC = `static-${VERSION}`;
const PAGES = "work-pages";
const MOST_PAGES = 60;
const WORK = /^\/runs\/[^/]+\/work\/$/;

self.addEventListener("install", (event) => {
  event.waitUntil(
    caches.open(STATIC).then((cache) => cache.addAll(FILES)).then(() => self.skipWaiting()),
  );
});

self.addEventListener("activate", (event) => {
  event.waitUntil(forgetOld().then(() => self.clients.claim()));
});

/* A page that was kept names the files of its own release: these stay until the page is fetched anew. */
async function forgetOld() {
  const pages = await caches.open(PAGES);
  const releases = new Set([VERSION]);
  for (const request of await pages.keys()) {
    const found = /\/static\/([0-9a-f]+)\//.exec(await (await pages.match(request)).text());
    if (found) releases.add(found[1]);
  }
  for (const name of await caches.keys()) {
    if (name.startsWith("static-") && !releases.has(name.slice("static-".length))) await caches.delete(name);
  }
}

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (url.origin !== location.origin) return;
  if (url.pathname === "/logout/") {
    event.waitUntil(caches.delete(PAGES));
    return;
  }
  if (request.method !== "GET") return;
  if (url.pathname.startsWith("/static/")) event.respondWith(fromCache(request));
  else if (WORK.test(url.pathname)) event.respondWith(fromNetwork(event, request));
});

async function fromCache(request) {
  return (await caches.match(request)) ?? fetch(request);
}

/* The network first; what is kept, when it does not answer within a few seconds. */
async function fromNetwork(event, request) {
  const pages = await caches.open(PAGES);
  const key = new URL(request.url).pathname;
  const answer = fetch(request).then((fresh) => {
    if (fresh.ok && !fresh.redirected) event.waitUntil(keepPage(pages, key, fresh.clone()));
    return fresh;
  });
  const kept = await pages.match(key);
  if (!kept) return answer;
  const late = new Promise((resolve) => setTimeout(resolve, 4_000, kept));
  return Promise.race([answer.catch(() => kept), late]);
}

async function keepPage(pages, key, answer) {
  await pages.delete(key);
  await pages.put(key, answer);
  const keys = await pages.keys();
  for (const old of keys.slice(0, Math.max(0, keys.length - MOST_PAGES))) await pages.delete(old);
}
