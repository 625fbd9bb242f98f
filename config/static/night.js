/* The keys of a shown night: each presses its button. */

const KEYS = { " ": "hold", n: "next", f: "faster", s: "slower" };

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || event.target.closest("input, textarea, select, a")) return;
  const button = document.querySelector(`[data-night-key="${KEYS[event.key.toLowerCase()]}"]`);
  if (!button) return;
  // Space would press the button that has the focus as well.
  event.preventDefault();
  button.click();
});
