/* A signature drawn with a finger: strokes as path data in a box of 600 by 200, and a word at once if another has to sign. */

const BOX = { width: 600, height: 200 };
const MOST_LETTERS = 59_000;
let stroke = null;

const at = (pad, event) => {
  const { left, top, width, height } = pad.getBoundingClientRect();
  const within = (value, most) => Math.max(0, Math.min(most, Math.round(value)));
  return [
    within(((event.clientX - left) / width) * BOX.width, BOX.width),
    within(((event.clientY - top) / height) * BOX.height, BOX.height),
  ];
};

const field = (pad) => pad.closest("form").elements.drawing;

const draw = (pad, text) => {
  const drawing = field(pad);
  if (drawing.value.length + text.length > MOST_LETTERS) return;
  drawing.value += text;
  pad.querySelector("path").setAttribute("d", drawing.value);
};

const clear = (form) => {
  form.elements.drawing.value = "";
  form.querySelector("[data-pad] path").setAttribute("d", "");
};

document.addEventListener("pointerdown", (event) => {
  const pad = event.target.closest?.("[data-pad]");
  if (!pad || !event.isPrimary) return;
  event.preventDefault();
  pad.setPointerCapture(event.pointerId);
  stroke = { pad, last: at(pad, event) };
  draw(pad, `M${stroke.last.join(" ")}`);
});

document.addEventListener("pointermove", (event) => {
  if (!stroke || !event.isPrimary) return;
  const [x, y] = at(stroke.pad, event);
  if (Math.hypot(x - stroke.last[0], y - stroke.last[1]) < 2) return;
  stroke.last = [x, y];
  draw(stroke.pad, `L${x} ${y}`);
});

for (const over of ["pointerup", "pointercancel"]) document.addEventListener(over, () => { stroke = null; });

document.addEventListener("click", (event) => {
  const button = event.target.closest?.("[data-clear-pad]");
  if (button) clear(button.form);
});

document.addEventListener("reset", (event) => {
  if (event.target.matches("form[data-sign]")) clear(event.target);
});

/* Said at once, also without a network; the server has the last word. */
document.addEventListener("change", (event) => {
  const form = event.target.closest?.("form[data-sign]");
  if (!form) return;
  const what = form.elements.sign_what.selectedOptions[0];
  const role = form.elements.sign_role.selectedOptions[0];
  const said = form.querySelector("[data-who-may]");
  const roles = what.dataset.roles.split(" ").filter(Boolean);
  said.hidden = !roles.length || roles.includes(role.value);
  said.textContent = said.hidden ? "" : `In ${form.dataset.state} the ${role.textContent.toLowerCase()} does not sign for this. Ask: ${what.dataset.may}.`;
});
