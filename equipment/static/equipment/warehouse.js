/* The scan field has the focus from anywhere on the page, and each answer has its own sound. */

const QUIET = "warehouse-quiet";
const TONES = { right: [[880, 0, 0.12]], caution: [[660, 0, 0.12], [660, 0.2, 0.12]], wrong: [[220, 0, 0.45]] };
let audio;

const sound = (said) => {
  const tones = said && TONES[said.dataset.sound];
  if (!tones || localStorage.getItem(QUIET)) return;
  audio ??= new AudioContext();
  for (const [pitch, after, length] of tones) {
    const tone = audio.createOscillator();
    const volume = audio.createGain();
    volume.gain.value = 0.25;
    tone.type = said.dataset.sound === "wrong" ? "square" : "sine";
    tone.frequency.value = pitch;
    tone.connect(volume).connect(audio.destination);
    tone.start(audio.currentTime + after);
    tone.stop(audio.currentTime + after + length);
  }
};

/* Selected, so that the next scan replaces what was refused instead of joining it. */
const ready = () => {
  const field = document.querySelector("input.scan");
  if (!field) return;
  field.focus({ preventScroll: true });
  field.select();
};

const soundSwitch = () => {
  const head = document.querySelector(".page-head");
  if (!head || !document.querySelector("input.scan")) return;
  const button = Object.assign(document.createElement("button"), { type: "button", className: "action plain" });
  const name = () => { button.textContent = localStorage.getItem(QUIET) ? "Sound is off" : "Sound is on"; };
  button.addEventListener("click", () => {
    if (localStorage.getItem(QUIET)) localStorage.removeItem(QUIET);
    else localStorage.setItem(QUIET, "yes");
    name();
    ready();
  });
  name();
  head.append(button);
};

document.addEventListener("htmx:afterSettle", () => { sound(document.querySelector(".said")); ready(); });
document.addEventListener("keydown", (event) => {
  const elsewhere = event.target.closest("input, select, textarea, button, a, summary");
  if (!elsewhere && /^[0-9a-z]$/i.test(event.key) && !event.ctrlKey && !event.metaKey && !event.altKey) ready();
});
soundSwitch();
ready();
