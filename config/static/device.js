/* Which pages this device keeps: those of a room that works without a network, for as long as its person is signed in. */

const WHO = "device-who";
const KEPT_AT = "device-kept-at";
const FRESH_MS = 2 * 60 * 1000;

const who = document.body.dataset.who || "";

/* What was kept for one person is nobody else's to read. What is not yet sent stays: it is in the outbox. */
export const forget = async () => {
  localStorage.removeItem(WHO);
  for (const name of Object.keys(localStorage)) if (name.startsWith(KEPT_AT)) localStorage.removeItem(name);
  if (window.caches) for (const name of await caches.keys()) await caches.delete(name);
};

const keep = async () => {
  const { worker, room } = document.body.dataset;
  if (!worker || !navigator.serviceWorker) return;
  const registration = await navigator.serviceWorker.register(worker, { scope: room });
  await navigator.serviceWorker.ready;
  const pages = [...document.querySelectorAll("a[data-keep], [data-keep] a")].map((link) => link.href.split("#")[0]);
  const since = Date.now() - Number(localStorage.getItem(`${KEPT_AT}${location.pathname}`) || 0);
  const kept = () => { document.body.dataset.kept = "yes"; };
  if (since < FRESH_MS) kept();
  if (!navigator.onLine || since < FRESH_MS) return;
  const files = performance.getEntriesByType("resource").map((entry) => entry.name);
  const channel = new MessageChannel();
  channel.port1.onmessage = () => {
    localStorage.setItem(`${KEPT_AT}${location.pathname}`, String(Date.now()));
    kept();
  };
  registration.active.postMessage({ keep: [location.href.split("#")[0], ...files, ...new Set(pages)] }, [channel.port2]);
};

const start = async () => {
  if (localStorage.getItem(WHO) !== who || !who) await forget();
  document.dispatchEvent(new CustomEvent("device:ready"));
  if (!who) return;
  localStorage.setItem(WHO, who);
  await keep();
};

document.addEventListener("submit", (event) => {
  if (!event.target.matches("form[data-sign-out]")) return;
  event.preventDefault();
  event.stopImmediatePropagation();
  forget().finally(() => event.target.submit());
}, true);

const begin = () => start().catch((error) => console.warn("This device keeps no pages:", error));
if (document.readyState === "complete") begin();
else window.addEventListener("load", begin);
