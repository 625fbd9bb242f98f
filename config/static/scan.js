/* A scanner types into whatever has the focus: after each answer the focus is back in the scan field, empty. */

const scanField = () => document.querySelector("input.scan:not(:disabled)");

document.addEventListener("htmx:afterSwap", () => scanField()?.focus());
document.addEventListener("htmx:afterRequest", (event) => {
  const field = event.target.querySelector?.("input.scan");
  if (field && event.detail.successful) field.value = "";
});
document.addEventListener("keydown", (event) => {
  const typing = event.target.closest("input, select, textarea, button, a, summary");
  if (!typing && /^[0-9a-z]$/i.test(event.key) && !event.ctrlKey && !event.metaKey && !event.altKey) scanField()?.focus();
});
