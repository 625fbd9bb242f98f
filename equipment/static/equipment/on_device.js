/*
 * The scan answered on the device while the server cannot be reached, from the list of units that it keeps: known or
 * unknown, on the list or not, here or elsewhere by the record, and the one hard stop. What is kept here and not yet
 * sent counts: a unit cleaned, held back or rented in on this device. What the server says later stands.
 */

const nav = document.querySelector("[data-units]");
const LIST = "units";
const FRESH_MS = 5 * 60 * 1000;
const SHAPES = {
  right: '<circle cx="24" cy="24" r="22" fill="none" stroke="currentColor" stroke-width="3"/><path d="M13 25l8 8 15-17" fill="none" stroke="currentColor" stroke-width="5"/>',
  caution: '<path d="M24 4L46 43H2Z" fill="none" stroke="currentColor" stroke-width="3"/><path d="M24 17v13M24 34v5" stroke="currentColor" stroke-width="5"/>',
  wrong: '<path d="M15 2h18l13 13v18L33 46H15L2 33V15Z" fill="currentColor"/><path d="M13 24h22" class="said-bar" stroke-width="7"/>',
};
let units = new Map();
let keptAt = null;
/* Of all that this person has not yet sent from here, and of that the scans of this page. */
let mine = [];
let waiting = [];
let doubted = "";

const read = (list) => {
  keptAt = new Date(list.at);
  units = new Map(list.units.map(([number, model, where, state, stop]) => [number, { number, model, where, state, stop }]));
};

const loadList = async () => {
  const cache = await caches.open(LIST);
  const kept = await cache.match(nav.dataset.units);
  if (kept) read(await kept.json());
  if (!navigator.onLine || (keptAt && Date.now() - keptAt < FRESH_MS)) return;
  const fresh = await fetch(nav.dataset.units, { redirect: "error" }).catch(() => null);
  if (!fresh?.ok) return;
  await cache.put(nav.dataset.units, fresh.clone());
  read(await fresh.json());
};

/* As the server reads them: digits filled up to four, letters in capitals, what surrounds them dropped. */
const numbersIn = (text) => {
  const parts = text.toUpperCase().split(/[\s,;]+/).map((part) => part.replace(/[#:./_-]+/g, "")).filter(Boolean);
  return [...new Set(parts.map((part) => (/^\d+$/.test(part) ? part.padStart(4, "0") : part)))];
};
const saidIn = (entry, field) => entry.fields.find(([name]) => name === field)?.[1] || "";
const numbersOf = (entry) => numbersIn(saidIn(entry, "numbers"));
const isScan = (entry) => saidIn(entry, "do") === "scan";
const isHere = (entry) => new URL(entry.url).pathname === location.pathname;
const named = (entry) => [...numbersOf(entry), ...numbersIn(saidIn(entry, "number"))];

/* Rented in on this device and not yet sent: one line for each, our number before the supplier's. */
const rentedHere = (number) => {
  const entry = mine.find((one) => saidIn(one, "do") === "rent"
    && saidIn(one, "units").split("\n").some((line) => numbersIn(line.trim().split(/\s+/)[0])[0] === number));
  const model = entry?.typed.find(([label]) => label === "Model")?.[1];
  return entry && { number, model: model || "Rented unit", where: "rented in on this device", state: "ready", stop: false };
};
const unitOf = (number) => units.get(number) || rentedHere(number);

/* The hard stop by the list, or by what was said on this device since: the last word counts. */
const mustStop = (unit) => {
  const last = mine.filter((entry) => named(entry).includes(unit.number) && ["steps", "condition"].includes(saidIn(entry, "do"))).at(-1);
  if (!last) return unit.stop;
  return saidIn(last, "do") === "steps" ? false : unit.stop || saidIn(last, "condition") === "held_back";
};

const lines = () => [...document.querySelectorAll(".load-line[data-model]")];
const lacking = (line) => Number(line.dataset.left ?? line.dataset.lacking);

/* The line that a unit of this model fills: its own model first, then one that it may stand in for. */
const lineFor = (model) => {
  const open = lines().filter((line) => lacking(line) > 0);
  return open.find((line) => line.dataset.model === model)
    || open.find((line) => line.dataset.fits.split("|").includes(model));
};

const draw = (line, left) => {
  line.dataset.left = left;
  line.querySelector(".load-count strong").textContent = left;
  line.classList.toggle("full", left === 0);
};

/* A row whose unit was scanned, cleaned, sent or missed here says so, and asks no second time. */
const markRows = () => {
  const here = mine.filter(isHere);
  const rows = [...document.querySelectorAll("#work [data-number]")];
  for (const row of rows) {
    const kept = here.some((entry) => named(entry).includes(row.dataset.number));
    row.dataset.kept = kept ? "yes" : "";
    for (const form of row.querySelectorAll("form")) form.hidden = kept;
    const mark = row.querySelector(".mark[data-kept-mark]");
    if (!kept) mark?.remove();
    else if (!mark) {
      const said = Object.assign(document.createElement("p"), { className: "mark loose", textContent: "kept here, not yet sent" });
      said.dataset.keptMark = "";
      row.append(said);
    }
  }
  const left = document.querySelector("#work [data-left]");
  const counted = rows.filter((row) => "counts" in row.dataset);
  if (left && counted.length) left.firstChild.textContent = `${counted.filter((row) => !row.dataset.kept).length} `;
};

/* The list as it will be once everything here is sent. */
const shrink = () => {
  markRows();
  for (const line of lines()) if (line.dataset.left) draw(line, Number(line.dataset.lacking));
  for (const entry of waiting) {
    for (const number of numbersOf(entry)) {
      const line = unitOf(number) && lineFor(unitOf(number).model);
      if (line) draw(line, lacking(line) - 1);
    }
  }
  const total = document.querySelector("[data-total]");
  if (total) total.firstChild.textContent = `${lines().reduce((sum, line) => sum + lacking(line), 0)} `;
};

const say = (form, shape, word, sentence, caution = "", takeBack = null) => {
  document.querySelector("#work .said")?.remove();
  const said = Object.assign(document.createElement("div"), { className: `said ${shape}` });
  said.dataset.sound = shape;
  said.setAttribute("role", shape === "wrong" ? "alert" : "status");
  said.innerHTML = `<svg class="said-shape" viewBox="0 0 48 48" width="64" height="64" aria-hidden="true">${SHAPES[shape]}</svg><div><p class="said-word"></p><p></p></div>`;
  const [first, second] = said.querySelectorAll("p");
  first.textContent = word;
  second.textContent = sentence;
  if (caution) {
    const strong = Object.assign(document.createElement("strong"), { textContent: caution });
    second.after(Object.assign(document.createElement("p"), {}));
    said.querySelector("p:last-child").append(strong);
  }
  if (takeBack) {
    const undo = Object.assign(document.createElement("button"), { type: "button", className: "action second", textContent: "Undo" });
    undo.addEventListener("click", () => takeBack(undo));
    said.append(undo);
  }
  form.after(said);
  document.dispatchEvent(new CustomEvent("htmx:afterSettle"));
};

const stopped = (unit) => `${unit.number} came back from category 3 water and is not yet decontaminated. `
  + "Put it on the dirty side and take another one.";

/* Why a scan is not kept, or null. */
const against = (form, entry) => {
  const numbers = numbersOf(entry);
  if (!numbers.length) return ["Not done", "Nothing was scanned. Scan a tag or type its four digits."];
  const twice = numbers.filter((number) => waiting.some((other) => numbersOf(other).includes(number)));
  if (twice.length) return ["Already there", `${twice.join(", ")} was scanned here before and waits to be sent. Go on with the next.`];
  const known = numbers.map(unitOf).filter(Boolean);
  const held = known.find(mustStop);
  if (held && "out" in form.dataset) return ["Stop", stopped(held)];
  const unknown = numbers.filter((number) => !unitOf(number));
  if (!unknown.length || !units.size || doubted === unknown.join(" ")) return null;
  doubted = unknown.join(" ");
  const age = keptAt.toLocaleString("en-US", { weekday: "short", hour: "numeric", minute: "2-digit" });
  return ["Not known", `${doubted} is not in the list of ${age} that this device keeps. Look at the number again; press Enter once more to send it all the same.`];
};

const verdict = (form, entry) => {
  const numbers = numbersOf(entry);
  const unit = unitOf(numbers.at(-1));
  const { count } = form.dataset;
  const kept = "Kept on this device; it is sent when the network is back.";
  const many = numbers.length > 1 ? ` · ${numbers.length} units` : "";
  if (!unit) return ["caution", `${numbers.at(-1)} Kept${many}`, `This device does not know it. ${kept}`];
  const what = `${unit.model}, by the record ${unit.where} (${unit.state}). ${kept}`;
  if (count && unit.where === count) return ["right", `${unit.number} Counted${many}`, `${unit.model}: here, as the record says. ${kept}`];
  if (count) return ["caution", `${unit.number} Counted, found here${many}`, `${what} The difference will be on the list of differences.`];
  if (mustStop(unit)) return ["caution", `${unit.number} In: keep it apart${many}`, what, "Decontaminate, change the filter and test before it goes out."];
  if (!("out" in form.dataset)) return ["right", `${unit.number} Scanned${many}`, what];
  const line = lineFor(unit.model);
  if (lines().length && !line) return ["caution", `${unit.number} Loaded, not on the list${many}`, what];
  if (line && line.dataset.model !== unit.model) return ["caution", `${unit.number} Loaded in place of ${line.dataset.model}${many}`, what];
  return ["right", `${unit.number} Loaded${many}`, what];
};

document.addEventListener("outbox:judge", (event) => {
  if (!isScan(event.detail.entry)) return;
  const no = against(event.target, event.detail.entry);
  if (!no) return;
  event.preventDefault();
  say(event.target, "wrong", ...no);
});

/* A count that goes on without a network keeps its beginning in its address, as the server does. */
const countFrom = (form, entry) => {
  const address = new URL(location.href);
  if (!form.dataset.count || !form.getAttribute("action") || address.searchParams.has("began")) return;
  address.searchParams.set("began", entry.happenedAt);
  history.replaceState(null, "", address);
};

document.addEventListener("outbox:kept", (event) => {
  const { entry } = event.detail;
  if (!isScan(entry)) return;
  const form = event.target;
  event.preventDefault();
  /* The verdict is on the list as it was before this scan. */
  waiting = waiting.filter((other) => other.key !== entry.key);
  countFrom(form, entry);
  shrink();
  const said = verdict(form, entry);
  waiting.push(entry);
  shrink();
  doubted = "";
  form.querySelector("input.scan").value = "";
  say(form, said[0], said[1], said[2], said[3], () => document.dispatchEvent(new CustomEvent("outbox:take-back", {
    detail: {
      order: entry.order,
      done: (back) => (back
        ? say(form, "right", "Taken back", "This scan is not sent.")
        : say(form, "caution", "Not taken back", "It may be with the server already. Take it back there when the network is here.")),
    },
  })));
});

document.addEventListener("outbox:changed", (event) => {
  mine = event.detail.entries.filter((entry) => entry.state === "waiting" && entry.who === document.body.dataset.who);
  waiting = mine.filter((entry) => isScan(entry) && isHere(entry));
  shrink();
});
document.addEventListener("htmx:afterSwap", () => shrink());

/* A kept page knows nothing of what is looked for in its address: the device answers from its list. */
const find = () => {
  const field = document.querySelector("input.scan[name='text']");
  const text = new URLSearchParams(location.search).get("text")?.trim() || "";
  if (!field || !text || field.value === text) return;
  field.value = text;
  const word = text.toLowerCase();
  const found = [...units.values()].filter((unit) => unit.number === text.padStart(4, "0") || unit.number.toLowerCase().startsWith(word)
    || unit.model.toLowerCase().includes(word) || unit.where.toLowerCase().includes(word)).slice(0, 50);
  const list = Object.assign(document.createElement("ul"), { className: "rows" });
  const line = (words) => list.append(Object.assign(document.createElement("li"), { textContent: words }));
  for (const unit of found) line(`${unit.number} ${unit.model}: ${unit.where}, ${unit.state}`);
  if (!found.length) line("Nothing in this device's list is known by that word.");
  line(`By the list of ${keptAt?.toLocaleString("en-US", { weekday: "short", hour: "numeric", minute: "2-digit" }) || "no time"}, kept on this device.`);
  document.querySelector("#work").append(list);
};

/* A kept page of what is free answers what was asked when it was kept: another question is not answered by it. */
const doubtAnswer = () => {
  const answer = document.querySelector("[data-answer]");
  const asked = new URLSearchParams(location.search);
  if (!answer || ["model", "wanted", "at", "until"].every((name) => (asked.get(name) || "") === answer.dataset[name])) return;
  const said = Object.assign(document.createElement("p"), { className: "refusal" });
  said.setAttribute("role", "alert");
  said.textContent = `The server was not reached, so this is not what you asked. Below is what this device kept on ${answer.dataset.when}.`;
  answer.before(said);
};
doubtAnswer();

document.addEventListener("device:ready", () => {
  if (nav && window.caches) loadList().then(() => { shrink(); find(); document.body.dataset.unitsKept = units.size; }).catch((error) => console.warn("No list of units is kept:", error));
});
