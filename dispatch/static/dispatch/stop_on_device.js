/* A stop without a network: once a step is kept on the phone, the page shows what comes after it. */

const LAST_STEP = { leave: "after-leave", arrive: "after-arrive" };
const STEP = "form[action$='/leave'], form[action$='/arrive']";

const visitOf = (url) => new URL(url, location.href).pathname.match(/\/crew\/stops\/(\d+)/)?.[1];
const stepOf = (url) => new URL(url).pathname.split("/").at(-1);

const catchUp = (steps) => {
  const last = steps.includes("arrive") ? "arrive" : steps.includes("leave") && "leave";
  const form = document.querySelector(STEP);
  if (!last || !form || (last === "leave" && form.getAttribute("action").endsWith("/arrive"))) return;
  const next = document.getElementById(LAST_STEP[last]);
  if (!next) return;
  form.replaceWith(next.content.cloneNode(true));
  if (last === "arrive") document.querySelector("form[action$='/late']")?.remove();
};

document.addEventListener("outbox:changed", (event) => {
  const here = visitOf(location.href);
  const mine = event.detail.entries.filter((entry) => entry.who === document.body.dataset.who
    && entry.state === "waiting" && visitOf(entry.url) === here);
  catchUp(mine.filter((entry) => entry.late).map((entry) => stepOf(entry.url)));
});
