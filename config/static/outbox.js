/*
 * The outbox. A form with `data-queue` goes onto the device first, under its own key, and is sent from there: one at a
 * time, in the order in which it happened, again and again until the server answered. The server gives the same answer
 * for the same key, so nothing is done twice; what is sent never changes between two tries.
 *
 * Events on the form: "outbox:judge" before it is kept without a server (preventDefault: it is not kept), "outbox:kept"
 * after it was. On the document: "outbox:changed" (`detail.entries`, `detail.paused`), "outbox:emptied".
 * `data-queue`: what to call it. `data-confirm`: the field that says a questioned value is meant. `data-anyway`: refusal codes that do not hold for what has already happened.
 */

import * as store from "./outbox_store.js";

const TIMEOUT_MS = 10_000;
const AGAIN_MS = 15_000;
const CLOCK = "outbox-clock-ms";
const who = document.body.dataset.who || "";
let reachable = navigator.onLine;
let paused = false;

const newKey = () => {
  if (crypto.randomUUID) return crypto.randomUUID();
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 15) | 64;
  bytes[8] = (bytes[8] & 63) | 128;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return hex.replace(/(.{8})(.{4})(.{4})(.{4})(.{12})/, "$1-$2-$3-$4-$5");
};

/* The device's clock, set right by what the server last said; a second's difference is the header's own coarseness. */
const now = () => new Date(Date.now() + Number(localStorage.getItem(CLOCK) || 0));
const setClock = (ahead) => {
  if (Number.isFinite(ahead)) localStorage.setItem(CLOCK, Math.abs(ahead) < 3000 ? "0" : String(ahead));
};

/* A page straight from the server says what time it is there; one that the worker answered may be a kept one. */
const [visit] = performance.getEntriesByType("navigation");
if (visit && !visit.workerStart && visit.type === "navigate") {
  setClock(Number(document.body.dataset.now) * 1000 - (performance.timeOrigin + visit.responseStart));
}

// A practice night beside the real one has cookies of its own.
const cookie = document.querySelector(".practice") ? "practice_csrftoken" : "csrftoken";
const token = () => document.cookie.match(new RegExp(`(?:^|; )${cookie}=([^;]+)`))?.[1] || "";

const labelOf = (field) => field.labels?.[0]?.textContent.trim() || field.name;

const typedIn = (form, submitter) => {
  const typed = [];
  for (const field of form.elements) {
    const silent = !field.name || ["hidden", "submit", "button", "fieldset"].includes(field.type) || field.disabled;
    if (silent || (["checkbox", "radio"].includes(field.type) && !field.checked)) continue;
    const value = field.type === "select-one" ? field.selectedOptions[0]?.textContent.trim() : field.value.trim();
    if (value) typed.push([labelOf(field), value]);
  }
  return submitter?.textContent.trim() ? [...typed, ["Pressed", submitter.textContent.trim()]] : typed;
};

const entryOf = (form, submitter) => {
  const key = newKey();
  const happenedAt = now().toISOString();
  const fields = [...new FormData(form, submitter)].filter(([name]) => !["csrfmiddlewaretoken", "key", "happened_at"].includes(name));
  return {
    who, key, happenedAt,
    name: document.body.dataset.name || "",
    url: new URL(form.getAttribute("action") || location.href, location.href).href,
    page: location.href,
    title: form.dataset.queue,
    typed: typedIn(form, submitter),
    fields: [...fields, ["key", key], ["happened_at", happenedAt]],
    anyway: form.dataset.anyway || "",
    confirm: form.dataset.confirm || "",
    state: "waiting",
    tries: 0,
    late: false,
  };
};

export const changed = async () => {
  const entries = await store.all();
  const mine = entries.filter((entry) => entry.who === who && entry.state === "waiting");
  document.dispatchEvent(new CustomEvent("outbox:changed", { detail: { entries, paused: paused && mine.length > 0 } }));
  return entries;
};

const refusalIn = (text) => {
  const page = new DOMParser().parseFromString(text, "text/html");
  const part = page.querySelector(".said.wrong, .refusal[data-code], main .refusal:not([hidden])");
  const words = part ? [...part.querySelectorAll("p, li")].map((line) => line.textContent.trim()).filter(Boolean) : [];
  const said = words.length ? words.join(" ") : part?.textContent.trim();
  return { code: part?.dataset.code || "", message: said || "The server did not take this. Look at what was typed." };
};

const post = async (entry) => {
  const body = new FormData();
  for (const [name, value] of entry.fields) body.append(name, value);
  const response = await fetch(entry.url, {
    method: "POST", body, credentials: "same-origin", signal: AbortSignal.timeout(TIMEOUT_MS),
    headers: { Outbox: entry.who, "X-CSRFToken": token() },
  });
  setClock(Date.parse(response.headers.get("Date")) - Date.now());
  return { status: response.status, next: response.headers.get("Outbox-Next"), text: await response.text() };
};

/* One try. "sent" and "refused" are the server's word; "unreachable" and "signed out" leave the entry where it is. */
const attempt = async (entry) => {
  entry.tries += 1;
  await store.put(entry);
  let answer;
  try {
    answer = await post(entry);
  } catch {
    reachable = false;
    return { outcome: "unreachable" };
  }
  reachable = answer.status < 500 && answer.status !== 429;
  paused = answer.status === 401;
  if (!reachable) return { outcome: "unreachable" };
  if (paused) return { outcome: "signed out" };
  if (answer.status < 400) {
    await store.remove(entry.order);
    return { outcome: "sent", ...answer };
  }
  const refusal = refusalIn(answer.text);
  if (entry.late && !entry.happened && entry.anyway.split(" ").includes(refusal.code)) {
    /* It has happened: nothing is under the key yet, so what is sent may say so. The server records it and warns. */
    entry.happened = true;
    entry.fields.push(["already_happened", "yes"]);
    return attempt(entry);
  }
  return { outcome: "refused", refusal, ...answer };
};

const alone = (work) => (navigator.locks ? navigator.locks.request("outbox", work) : work());

/* Send what waits. `asked` is the entry whose form is still before the person: its answer is shown there. */
const sendAll = (asked) => alone(async () => {
  let result = { outcome: "unreachable" };
  for (const { order } of await store.all()) {
    const entry = (await store.all()).find((one) => one.order === order);
    if (entry?.who !== who || entry.state !== "waiting") continue;
    const done = await attempt(entry);
    if (entry.order === asked) result = done;
    if (done.outcome === "unreachable" || done.outcome === "signed out") break;
    if (done.outcome === "refused" && entry.order === asked && !entry.late) await store.remove(entry.order);
    else if (done.outcome === "refused") await store.put({ ...entry, state: "refused", refusal: done.refusal.message });
    if (entry.order !== asked) await changed();
  }
  return result;
});

export const send = async () => {
  if (!who) return changed();
  const waiting = (await store.all()).some((entry) => entry.who === who && entry.state === "waiting");
  if (!waiting) return changed();
  await sendAll(null);
  const left = (await changed()).filter((entry) => entry.who === who && entry.state === "waiting");
  if (!left.length) document.dispatchEvent(new CustomEvent("outbox:emptied"));
  return left;
};

/* Only what was never tried can be taken back here: of anything else the server may know already. */
export const takeBack = (order) => alone(async () => {
  const entry = (await store.all()).find((one) => one.order === order);
  if (!entry || entry.tries > 0) return false;
  await store.remove(order);
  await changed();
  return true;
});

/* A person's decision on what was refused. */
export const decide = async (order, decision, reason = "") => {
  const entry = (await store.all()).find((one) => one.order === order);
  if (!entry) return;
  if (decision === "confirm") entry.fields.push([entry.confirm, "yes"]);
  if (decision !== "set_aside") await store.put({ ...entry, state: "waiting" });
  else await store.put({ ...entry, state: "set_aside", reason, setAsideAt: now().toISOString() });
  await (decision === "set_aside" ? changed() : send());
};

/* The answer takes the place of the part that it is about; a form that leads elsewhere goes there. */
export const show = (text, part) => {
  const page = new DOMParser().parseFromString(text, "text/html");
  const selector = page.querySelector(part) && document.querySelector(part) ? part : "#main";
  const found = page.querySelector(selector);
  if (!found) return;
  const fresh = document.importNode(found, true);
  document.querySelector(selector).replaceWith(fresh);
  window.htmx?.process(fresh);
  for (const name of ["htmx:afterSwap", "htmx:afterSettle"]) fresh.dispatchEvent(new CustomEvent(name, { bubbles: true, detail: {} }));
  (fresh.querySelector("[aria-invalid='true']") || fresh.querySelector(".refusal[tabindex]"))?.focus();
};

const ask = (form, name, entry, result) => form.dispatchEvent(
  new CustomEvent(name, { bubbles: true, cancelable: true, detail: { entry, ...result } }),
);

const keptOnDevice = async (form, entry) => {
  entry.late = true;
  await (entry.order ? store.put(entry) : store.add(entry).then((order) => { entry.order = order; }));
  form.dataset.kept = "yes";
  await changed();
  if (!ask(form, "outbox:kept", entry)) return;
  form.reset();
  document.getElementById("kept-note")?.remove();
  const at = new Date(entry.happenedAt).toLocaleTimeString("en-US", { hour: "numeric", minute: "2-digit" });
  const note = Object.assign(document.createElement("p"), {
    id: "kept-note", className: "notice", textContent: `${entry.title}: kept on this device at ${at}. It is sent when the network is back.`,
  });
  note.setAttribute("role", "status");
  document.getElementById("main").prepend(note);
};

const take = async (form, submitter) => {
  const entry = entryOf(form, submitter);
  const part = form.getAttribute("hx-target") || "#main";
  if (!reachable || paused) {
    if (ask(form, "outbox:judge", entry)) await keptOnDevice(form, entry);
    if (navigator.onLine) send();
    return;
  }
  entry.order = await store.add(entry);
  form.dataset.kept = "yes";
  const result = await sendAll(entry.order);
  if (result.outcome === "sent" && result.next) location.assign(result.next);
  else if (result.outcome === "sent" || result.outcome === "refused") show(result.text, part);
  else if (ask(form, "outbox:judge", entry)) return keptOnDevice(form, entry);
  else await store.remove(entry.order);
  await changed();
};

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (!form.matches("form[data-queue]") || !who || form.dataset.unkept) return;
  event.preventDefault();
  event.stopImmediatePropagation();
  if (form.dataset.sent) return;
  form.dataset.sent = "yes";
  take(form, event.submitter).catch((error) => {
    if (form.dataset.kept) throw error;
    /* A browser that keeps nothing: the form goes as any other. */
    console.warn("This device cannot keep forms:", error);
    form.dataset.unkept = "yes";
    delete form.dataset.sent;
    form.requestSubmit(event.submitter);
  }).finally(() => { delete form.dataset.sent; delete form.dataset.kept; });
}, true);

document.addEventListener("outbox:take-back", (event) => takeBack(event.detail.order).then(event.detail.done));

/* What was kept here has reached the server: the page shows how things stand now, unless somebody is typing. */
document.addEventListener("outbox:emptied", async () => {
  const busy = [...document.querySelectorAll("main input, main textarea")].some(
    (field) => !["hidden", "checkbox", "radio"].includes(field.type) && field.value !== field.defaultValue,
  );
  if (busy || !document.querySelector("form[data-queue]")) return;
  const response = await fetch(location.href, { redirect: "error" }).catch(() => null);
  if (response?.ok) show(await response.text(), document.querySelector("#work") ? "#work" : "#main");
});

const again = () => { reachable = true; send().catch(() => null); };
window.addEventListener("online", again);
window.addEventListener("offline", () => { reachable = false; });
window.addEventListener("pageshow", () => send().catch(() => null));
document.addEventListener("visibilitychange", () => { if (!document.hidden) send().catch(() => null); });
setInterval(() => { if (navigator.onLine) send().catch(() => null); }, AGAIN_MS);
