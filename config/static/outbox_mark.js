/* The mark that says what is not yet sent, and, opened, what it is; a refused one waits there for a person's decision. */

import { decide } from "./outbox.js";

const who = document.body.dataset.who || "";
const mark = document.getElementById("outbox");

const element = (tag, text, given = {}) => Object.assign(document.createElement(tag), { textContent: text, ...given });
const clock = (iso) => new Date(iso).toLocaleString("en-US", { weekday: "short", hour: "numeric", minute: "2-digit" });

const headline = (entries, paused) => {
  const count = (state) => entries.filter((entry) => entry.who === who && entry.state === state).length;
  const others = entries.filter((entry) => entry.who !== who && entry.state !== "set_aside");
  const said = [];
  if (count("waiting")) said.push(`${count("waiting")} not yet sent${paused ? ": sign in again to send" : ""}`);
  if (count("refused")) said.push(`${count("refused")} refused: please decide`);
  if (others.length) {
    const names = [...new Set(others.map((entry) => entry.name))].join(", ");
    said.push(`${others.length} not yet sent by ${names}: sign in as ${names} to send`);
  }
  return said.join(" · ");
};

const setAside = (entry) => {
  const form = element("form", "");
  const label = element("label", "Or set it aside, because");
  const reason = element("input", "", { name: "reason", maxLength: 120, required: true, id: `aside-${entry.order}` });
  label.htmlFor = reason.id;
  form.append(label, reason, element("button", "Set aside", { className: "action second" }));
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    event.stopPropagation();
    decide(entry.order, "set_aside", reason.value.trim());
  });
  return form;
};

const shown = (entry) => {
  const item = element("li", "");
  item.append(element("p", `${entry.title}, ${clock(entry.happenedAt)}`, { className: "outbox-title" }));
  const sides = element("div", "", { className: "outbox-sides" });
  const typed = element("dl", "", { className: "facts" });
  for (const [label, value] of entry.typed) typed.append(element("dt", label), element("dd", value));
  sides.append(typed);
  item.append(sides);
  if (entry.state === "refused") {
    const refusal = element("div", "", { className: "refusal" });
    refusal.append(element("strong", "The server's answer"), element("p", entry.refusal));
    sides.append(refusal);
    const again = element("button", "Send again", { type: "button", className: "action" });
    again.addEventListener("click", () => decide(entry.order, "send"));
    item.append(again);
    if (entry.confirm) {
      const meant = element("button", "It is right as typed: send", { type: "button", className: "action second" });
      meant.addEventListener("click", () => decide(entry.order, "confirm"));
      item.append(meant);
    }
    item.append(setAside(entry));
  }
  if (entry.state === "set_aside") item.append(element("p", `Set aside: ${entry.reason}`, { className: "quiet" }));
  return item;
};

document.addEventListener("outbox:changed", (event) => {
  const { entries, paused } = event.detail;
  const said = headline(entries, paused);
  mark.hidden = !said;
  mark.classList.toggle("decide", entries.some((entry) => entry.who === who && entry.state === "refused"));
  mark.querySelector("summary > span").textContent = said;
  const list = element("ul", "", { className: "rows" });
  list.append(...entries.filter((entry) => entry.who === who).map(shown));
  const parts = [list];
  if (paused || !who) {
    const here = encodeURIComponent(location.pathname);
    parts.unshift(element("a", "Sign in to send", { className: "action", href: `/sign-in?next=${here}` }));
  }
  mark.querySelector("div").replaceChildren(...parts);
});
