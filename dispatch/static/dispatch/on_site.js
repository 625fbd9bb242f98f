/* On the phone at once, with or without a network: what a circuit carries, and whether a machine ran since it was last seen. */

const COARSE_H = 1;
const CLOCK = "outbox-clock-ms";
const now = () => Date.now() + Number(localStorage.getItem(CLOCK) || 0);
const plain = (value) => String(Math.round(value * 100) / 100);

const circuitsIn = (text) => text.split(/[,;\n]/).filter((part) => part.trim()).map((part, index) => {
  const found = part.trim().match(/^(.*?)\s*(\d+(?:\.\d+)?)\s*[Aa]?\s*(?:\(\s*(\d+(?:\.\d+)?)[^)]*\))?$/);
  return found && { name: found[1].trim() || `Circuit ${index + 1}`, breaker: Number(found[2]), used: Number(found[3] || 0) };
});

const loads = (form) => {
  const share = Number(form.dataset.power) / 100;
  const list = form.querySelector("[data-loads]");
  const circuits = circuitsIn(form.elements.circuits.value);
  const used = circuits.map(() => 0);
  for (const field of form.querySelectorAll("[data-amps]")) {
    const place = Number(field.querySelector("input").value);
    if (place >= 1 && place <= used.length) used[place - 1] += Number(field.dataset.amps);
  }
  list.replaceChildren(...circuits.map((circuit, index) => {
    const line = document.createElement("li");
    if (!circuit) line.textContent = `Circuit ${index + 1} has no breaker size.`;
    else {
      const most = Math.max(0, circuit.breaker * share - circuit.used);
      const over = used[index] - most;
      line.textContent = `${index + 1}. ${circuit.name}: ${plain(used[index])} of ${plain(most)} A${over > 0.001 ? `, over by ${plain(over)} A: move a unit` : ""}`;
    }
    return line;
  }));
};

const meter = (field) => {
  const typed = field.querySelector("input").value.trim();
  const [said, reason] = [field.querySelector("[role=status]"), field.querySelector("[data-reason]")];
  const last = Number(field.dataset.last);
  const value = Number(typed);
  let words = "";
  if (typed && field.dataset.last && Number.isFinite(value)) {
    const clock = (now() - Date.parse(field.dataset.lastAt)) / 3_600_000;
    const ran = value - last;
    if (ran < 0) words = "The meter shows fewer hours than last time.";
    else if (ran > clock + COARSE_H) words = `The meter gained ${plain(ran)} hours in ${plain(clock)}.`;
    else if (clock - ran > COARSE_H) words = `Ran ${plain(ran)} of ${plain(clock)} hours. Look at its breaker, cord and tank, and say why.`;
  }
  said.hidden = !words;
  said.textContent = words;
  if (words) reason.hidden = false;
};

document.addEventListener("input", (event) => {
  const power = event.target.closest("form[data-power]");
  if (power) loads(power);
  const field = event.target.closest("[data-meter]");
  if (field && event.target.name.startsWith("m_")) meter(field);
});
