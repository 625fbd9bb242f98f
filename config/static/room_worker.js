/*
 * Keeps a room's pages for a shift without a network. `self.ROOM` is set by the worker's own address: name, scope,
 * `files` (where static files lie) and `gone` (the page to show for one that was never kept).
 * The network comes first: what is kept answers only where it fails or is too slow. Forms are none of its business.
 */

const CACHE = `room-${self.ROOM.name}`;
const PATIENCE_MS = 4000;
const FRESH_MS = 15 * 60 * 1000;

const inRoom = (address) => address.origin === self.location.origin
  && (address.pathname === self.ROOM.scope || address.pathname.startsWith(`${self.ROOM.scope}/`));
const isFile = (address) => address.origin === self.location.origin && address.pathname.startsWith(self.ROOM.files);

/* A redirect is the sign-in or another page: neither may stand in for this one. */
const mayBeKept = (response) => response.ok && response.type === "basic" && !response.redirected;

const fetched = async (request, key) => {
  const response = await fetch(request);
  if (mayBeKept(response)) await (await caches.open(CACHE)).put(key, response.clone());
  return response;
};

const kept = async (key) => {
  const cache = await caches.open(CACHE);
  return (await cache.match(key)) || cache.match(key, { ignoreSearch: true });
};

const later = (milliseconds) => new Promise((resolve) => setTimeout(resolve, milliseconds));

const answer = async (event, key) => {
  const network = fetched(event.request, key).then(
    (response) => (response.status === 502 || response.status === 503 || response.status === 504 ? null : response),
    () => null,
  );
  event.waitUntil(network);
  const first = await Promise.race([network, later(PATIENCE_MS)]);
  return first || (await kept(key)) || (await network);
};

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(CACHE).then((cache) => cache.add(self.ROOM.gone)).then(() => self.skipWaiting()));
});
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const address = new URL(request.url);
  if (request.method !== "GET") return;
  if (isFile(address)) {
    event.respondWith(answer(event, request.url).then((response) => response || Response.error()));
  } else if (request.mode === "navigate" && inRoom(address)) {
    address.hash = "";
    event.respondWith(
      answer(event, address.href)
        .then((response) => response || kept(new URL(self.ROOM.gone, self.location).href))
        .then((response) => response || Response.error()),
    );
  }
});

/* The files that a page names: it was perhaps never opened here before it is needed without a network. */
const filesOf = async (response) => {
  if (!response?.headers.get("Content-Type")?.startsWith("text/html")) return [];
  const named = (await response.text()).matchAll(/(?:src|href)="([^"]+)"/g);
  return [...named].map(([, url]) => url).filter((url) => isFile(new URL(url, self.location)));
};

const keepFile = async (url) => {
  const { href } = new URL(url, self.location);
  if (!(await kept(href))) await fetched(href, href).catch(() => null);
};

/* What the kept pages lead to with `data-keep` on the link itself, such as each vehicle's count: one step further. */
const leadsTo = (text, from) => [...text.matchAll(/<a data-keep[^>]*?href="([^"]+)"/g)]
  .map(([, url]) => new URL(url.replaceAll("&amp;", "&"), from)).filter(inRoom).map((address) => address.href);

const isFresh = async (href) => {
  const had = await (await caches.open(CACHE)).match(href);
  return had && Date.now() - Date.parse(had.headers.get("Date")) < FRESH_MS;
};

/* One at a time: a phone's network and the server's patience are shared with the work itself. */
self.addEventListener("message", (event) => {
  const keepAll = async () => {
    const further = new Set();
    for (const url of [self.ROOM.gone, ...event.data.keep]) {
      const address = new URL(url, self.location);
      if (isFile(address)) await keepFile(url);
      if (!inRoom(address)) continue;
      const page = await fetched(address.href, address.href).catch(() => null);
      for (const file of await filesOf(page?.clone())) await keepFile(file);
      if (page?.ok) for (const href of leadsTo(await page.text(), page.url)) further.add(href);
    }
    for (const href of further) if (!(await isFresh(href))) await fetched(href, href).catch(() => null);
    event.ports[0]?.postMessage("kept");
  };
  event.waitUntil(keepAll());
});
