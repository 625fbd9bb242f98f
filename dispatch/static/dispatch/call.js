/*
 * Taking a call: every field is saved as it is typed and kept in this browser until the server has it.
 * One save at a time, in the order of typing; each has a key, so that one sent twice is kept once.
 */
import { keptQueue } from "./call_queue.js";
import { roomRows } from "./call_rooms.js";

const PAUSE_MS = 250;
const RETRY_MS = 2000;
const LOOK_MS = 5000;

const form = document.getElementById("call");
const queue = await keptQueue(`ebbline call ${form.dataset.call}`);
const saved = document.getElementById("saved");
const token = form.querySelector("[name=csrfmiddlewaretoken]").value;
let busy = false;
let away = "";

const box = (name) => form.querySelector(`[data-field="${CSS.escape(name)}"]`);
const holder = (name) => form.querySelector(`[data-holds="${CSS.escape(name)}"]`);
const isChoices = (field) => field.matches(".choices");
const textOf = (field) => {
  if (isChoices(field)) return [...field.querySelectorAll(":checked")].map((tick) => tick.value).join(",");
  if (field.matches("[data-remove]")) return field.dataset.value;
  return field.value;
};
const put = (field, text) => {
  if (isChoices(field)) {
    const chosen = text.split(",").map((word) => word.trim());
    for (const tick of field.querySelectorAll("input")) tick.checked = chosen.includes(tick.value);
  } else if (field.matches("[data-remove]")) rooms.removed(field, text === "yes");
  else field.value = text;
};

/* What is said about saving: one line for all, a few words at the field while it waits. */
const say = () => {
  const waiting = queue.names();
  for (const mark of form.querySelectorAll("[data-state]")) {
    const name = mark.closest("[data-holds]")?.dataset.holds;
    const words = queue.has(name) ? "not yet saved" : "";
    if (mark.textContent !== words) mark.textContent = words;
  }
  const count = `${waiting.length} ${waiting.length === 1 ? "field" : "fields"} not yet saved`;
  const words = away ? `${count}: ${away}` : waiting.length ? count : "All saved.";
  if (saved.textContent !== words) saved.textContent = words;
};

const refuse = (name, message, choices = []) => {
  const place = holder(name)?.querySelector("[data-refusal]");
  const field = box(name);
  if (!place) return;
  place.replaceChildren(message);
  for (const [words, choose] of choices) {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "action second";
    button.textContent = words;
    button.addEventListener("click", choose);
    place.append(" ", button);
  }
  place.hidden = !message;
  if (message) field.setAttribute("aria-invalid", "true");
  else field.removeAttribute("aria-invalid");
};

const changed = (field) => {
  const name = field.dataset.field;
  queue.put(name, { value: textOf(field), key: queue.newKey(), held: false, sent: queue.get(name)?.sent });
  refuse(name, "");
  say();
};

/*
 * What the server has now. What another screen changed shows at once, also where the cursor stands; our own words said
 * back (`own`) wait until the cursor has left, so that nobody loses the space just typed.
 */
const take = (answers, own) => {
  for (const [name, { text, version }] of Object.entries(answers)) {
    const field = box(name);
    // A look that left before the last save comes back with what was true before it.
    if (!field || queue.has(name) || version < Number(field.dataset.seen)) continue;
    const newer = version > Number(field.dataset.seen);
    field.dataset.seen = version;
    const hidden = field.closest("[data-holds]")?.querySelector("[data-form-seen]");
    if (hidden) hidden.value = version;
    const typing = document.activeElement === field || (isChoices(field) && field.contains(document.activeElement));
    if ((!typing || (newer && !own)) && textOf(field) !== text) put(field, text);
  }
};

const beside = ({ place, side }) => {
  for (const [id, html] of [["place", place], ["side", side]]) {
    const element = document.getElementById(id);
    // Somebody reading or choosing here is not disturbed.
    if (html === undefined || element.contains(document.activeElement) || element.dataset.html === html) continue;
    const open = [...element.querySelectorAll("details")].map((part) => part.open);
    element.innerHTML = html;
    element.dataset.html = html;
    element.querySelectorAll("details").forEach((part, index) => { part.open = open[index] ?? false; });
  }
};

const conflict = (name, problem) => {
  const theirs = problem.theirs || "nothing";
  refuse(name, `${problem.message} There now: ${theirs}.`, [
    [`Keep ${theirs}`, () => {
      queue.drop(name);
      const field = box(name);
      field.dataset.seen = problem.version;
      put(field, problem.theirs);
      refuse(name, "");
      field.focus?.();
      say();
    }],
    ["Keep mine", () => {
      box(name).dataset.seen = problem.version;
      queue.put(name, { ...queue.get(name), key: queue.newKey(), held: false });
      refuse(name, "");
      flush();
    }],
  ]);
};

const answered = (name, sent, status, body) => {
  away = "";
  const entry = queue.get(name);
  const newest = entry?.key === sent.key;
  if (entry && !newest) queue.put(name, { ...entry, sent: undefined });
  if (status < 300) {
    if (newest) queue.drop(name);
    const mine = body.answers[name];
    if (mine && box(name)) box(name).dataset.seen = mine.version;
    take(body.answers, true);
    beside(body);
  } else if (newest) {
    queue.put(name, { ...entry, sent: undefined, held: true });
    if (body.code === "changed_meanwhile") conflict(name, body);
    else refuse(name, body.message);
  }
};

const trouble = (words) => {
  away = words;
  say();
  setTimeout(flush, RETRY_MS);
};

/*
 * Send what waits, oldest first. A refused value waits for its next change; a lost network is tried again. A save whose
 * answer was lost is sent again exactly as it was before anything newer of its field: it may have been kept, and only
 * its answer tells which version the newer one follows.
 */
const flush = async () => {
  if (busy) return;
  const next = queue.next();
  if (!next) return say();
  busy = true;
  const [name, entry] = next;
  const seen = Number(box(name)?.dataset.seen ?? 0);
  const sent = entry.sent ?? { key: entry.key, value: entry.value, seen };
  queue.note(name, { ...entry, sent });
  try {
    const response = await fetch(form.dataset.answers, {
      method: "POST",
      redirect: "manual",
      headers: { "Content-Type": "application/json", "X-CSRFToken": token, Accept: "application/json" },
      body: JSON.stringify({ key: sent.key, field: name, value: sent.value, seen: sent.seen }),
      signal: AbortSignal.timeout(10_000),
    });
    const json = (response.headers.get("Content-Type") || "").includes("json");
    // The next save may only leave once this one's version is known, so it stays busy until the answer is read.
    const body = json && response.status < 500 ? await response.json() : null;
    busy = false;
    if (response.status >= 500) return trouble("the server has a fault. Kept in this browser and tried again.");
    if (!body) return trouble("sign in again in another tab. What you typed is kept in this browser.");
    answered(name, sent, response.status, body);
  } catch {
    busy = false;
    return trouble("the server cannot be reached. Kept in this browser and tried again.");
  }
  say();
  return flush();
};

let pause;
const soon = () => {
  clearTimeout(pause);
  pause = setTimeout(flush, PAUSE_MS);
};

const rooms = roomRows(form, { changed: (field) => { changed(field); flush(); } });

form.addEventListener("input", (event) => {
  const field = event.target.closest("[data-field]");
  if (!field) return;
  changed(field);
  if (field.matches("[data-line]")) rooms.keepBlank();
  soon();
});
form.addEventListener("change", flush);
form.addEventListener("submit", (event) => { event.preventDefault(); flush(); });

/* Enter goes on to the next field, Ctrl+Enter asks who can go: nobody leaves a half-taken call by accident. */
const fieldsInOrder = () => [...form.querySelectorAll("input:not([type=hidden], [tabindex='-1']), select")]
  .filter((field) => field.offsetParent !== null);
document.addEventListener("keydown", (event) => {
  if (event.key !== "Enter") return;
  if (event.ctrlKey || event.metaKey) {
    event.preventDefault();
    showOffers();
  } else if (event.target.matches("#call input:not([type=checkbox]), #call select")) {
    event.preventDefault();
    flush();
    const order = fieldsInOrder();
    const next = event.target.matches("[data-line]") ? rooms.after(event.target) : order[order.indexOf(event.target) + 1];
    next?.focus();
  }
});

/* One stop of the Tab key for all the ticks of one question. */
for (const choices of form.querySelectorAll(".choices")) {
  const ticks = [...choices.querySelectorAll("input")];
  ticks.forEach((tick, index) => { tick.tabIndex = index ? -1 : 0; });
  choices.addEventListener("keydown", (event) => {
    const step = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
    if (!step) return;
    event.preventDefault();
    const now = ticks.indexOf(event.target);
    const next = ticks[(now + step + ticks.length) % ticks.length];
    event.target.tabIndex = -1;
    next.tabIndex = 0;
    next.focus();
  });
}

document.addEventListener("click", (event) => {
  const choice = event.target.closest("[data-choose-state]");
  if (!choice) return;
  const field = box("state");
  field.value = choice.dataset.chooseState;
  changed(field);
  field.focus();
  flush();
});

const offers = document.getElementById("offers");
const settled = async () => {
  for (let tries = 0; tries < 40 && (busy || queue.next()); tries += 1) {
    flush();
    await new Promise((wait) => { setTimeout(wait, 50); });
  }
};
const showOffers = async () => {
  offers.textContent = "Looking who can go.";
  await settled();
  try {
    const response = await fetch(form.dataset.offers, { headers: { "X-Fragment": "yes" }, redirect: "manual" });
    offers.innerHTML = await response.text();
    (offers.querySelector("[data-send]") || offers.querySelector("[tabindex]"))?.focus();
  } catch {
    offers.textContent = "The server cannot be reached. Try again; what you typed is kept.";
  }
};
document.getElementById("show-offers").addEventListener("click", (event) => {
  event.preventDefault();
  showOffers();
});

/* Another screen on the same call: its changes come here where nobody types. */
const look = async () => {
  if (document.hidden || busy || away) return;
  try {
    const response = await fetch(form.dataset.answers, { headers: { Accept: "application/json" }, redirect: "manual" });
    if (!response.ok) return;
    const body = await response.json();
    if (body.over) window.location.reload();
    rooms.addMissing(Object.keys(body.answers));
    take(body.answers, false);
    beside(body);
  } catch {
    away = "the server cannot be reached.";
    say();
    setTimeout(() => { away = ""; flush(); }, RETRY_MS);
  }
};
setInterval(look, LOOK_MS);

document.documentElement.classList.add("scripted");
for (const name of queue.names()) {
  rooms.addMissing([name]);
  const field = box(name);
  if (field) {
    put(field, queue.get(name).value);
    queue.put(name, { ...queue.get(name), held: false });
  } else queue.drop(name);
}
// What was typed before this program ran is saved like the rest.
for (const field of form.querySelectorAll("input[data-field]:not([type=checkbox]), textarea[data-field]")) {
  if (field.value !== field.defaultValue && !queue.has(field.dataset.field)) changed(field);
}
rooms.keepBlank();
if (document.activeElement === document.body) fieldsInOrder().find((field) => !field.value && field.type !== "checkbox")?.focus({ preventScroll: true });
flush();
window.addEventListener("online", flush);
