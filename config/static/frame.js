/* What every page does: put the reader where the answer is, say when the network is gone, send a form once. */

const toFirstRefusal = (root) => {
  const field = root.querySelector("[aria-invalid='true']");
  const message = root.querySelector(".refusal[tabindex]");
  (field || message)?.focus();
};

const network = (gone) => {
  const notice = document.getElementById("no-network");
  if (notice) notice.hidden = !gone;
};

toFirstRefusal(document);

document.addEventListener("htmx:afterSwap", (event) => {
  network(false);
  if (event.detail.xhr && event.detail.xhr.status >= 400) toFirstRefusal(event.detail.target);
});
document.addEventListener("htmx:afterRequest", (event) => {
  if (event.detail.successful) network(false);
});
document.addEventListener("htmx:sendError", () => network(true));
document.addEventListener("htmx:timeout", () => network(true));
window.addEventListener("offline", () => network(true));
window.addEventListener("online", () => network(false));

/* A second press while the first is under way would ask for the same thing twice. */
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (event.defaultPrevented || form.method === "get") return;
  if (form.dataset.sent) event.preventDefault();
  form.dataset.sent = "yes";
  setTimeout(() => delete form.dataset.sent, 10_000);
});
/* Coming back with the browser's own button shows the page as it was left, and it may be sent again. */
window.addEventListener("pageshow", () => {
  for (const form of document.querySelectorAll("form[data-sent]")) delete form.dataset.sent;
});
