/*
 * The phone's own position goes with each report, if its lead allowed that here on this phone, and never otherwise.
 * It is asked for when a page opens and when the lead comes back to it, so that it is at hand when a form is sent.
 */

const ALLOWED = `position-allowed-${document.body.dataset.who}`;
const FRESH_MS = 60_000;
const OLDEST_MS = 30 * 60_000;

const box = document.getElementById("position");
let last;

const allowed = () => localStorage.getItem(ALLOWED) === "yes";

const look = () => new Promise((resolve, reject) => {
  navigator.geolocation.getCurrentPosition(
    (found) => { last = found; resolve(found); }, reject,
    { enableHighAccuracy: true, maximumAge: FRESH_MS, timeout: 20_000 },
  );
});

const show = (said = "") => {
  if (!box) return;
  box.hidden = false;
  box.querySelector("[data-allow]").hidden = allowed();
  box.querySelector("[data-forget]").hidden = !allowed();
  box.querySelector("[role=status]").textContent = said;
};

const WHY = { 1: "The browser was told not to give the position. It can be allowed in its settings for this page.", 2: "The phone does not know where it is just now. Try again outside.", 3: "The phone took too long to find its position. Try again outside." };

const allow = async () => {
  show("Asking the phone...");
  try {
    await look();
  } catch (error) {
    show(WHY[error.code] || "The phone gives no position.");
    return;
  }
  localStorage.setItem(ALLOWED, "yes");
  show();
  box.querySelector("form[data-tell]").requestSubmit();
};

/* Whatever form is gathered for sending or keeping takes along where the phone was, and how long ago. */
document.addEventListener("formdata", (event) => {
  if (!allowed() || !last || !event.target.matches("form[data-queue]") || event.target.matches("[data-forget]")) return;
  const age = Date.now() - last.timestamp;
  if (age > OLDEST_MS) return;
  event.formData.append("position_lat", last.coords.latitude.toFixed(5));
  event.formData.append("position_lon", last.coords.longitude.toFixed(5));
  event.formData.append("position_accuracy_m", Math.round(last.coords.accuracy));
  event.formData.append("position_age_s", Math.max(0, Math.round(age / 1000)));
  if (age > FRESH_MS) look().catch(() => null);
});

if (navigator.geolocation) {
  const refresh = () => { if (allowed() && !document.hidden) look().catch(() => null); };
  box?.querySelector("[data-allow]").addEventListener("click", allow);
  /* On the press, not when the form is sent: nothing more goes from here on, with or without a network. */
  box?.querySelector("[data-forget] button").addEventListener("click", () => { localStorage.removeItem(ALLOWED); last = undefined; });
  document.addEventListener("visibilitychange", refresh);
  show();
  refresh();
}
