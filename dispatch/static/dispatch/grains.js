/*
 * Grains of water per pound of dry air, at once, on the phone. ASHRAE Handbook - Fundamentals (2017), chapter 1:
 * equation 3 (pressure by elevation), 5 and 6 (saturation), 20 (humidity ratio). A test compares it with the server's.
 */

const GRAINS_PER_LB = 7000;
const TRIPLE_POINT_F = 32.018;

const saturationPsia = (fahrenheit) => {
  const t = fahrenheit + 459.67;
  const over = fahrenheit <= TRIPLE_POINT_F
    ? -1.0214165e4 / t - 4.8932428 - 5.3765794e-3 * t + 1.9202377e-7 * t ** 2 + 3.5575832e-10 * t ** 3 - 9.0344688e-14 * t ** 4 + 4.1635019 * Math.log(t)
    : -1.0440397e4 / t - 1.129465e1 - 2.7022355e-2 * t + 1.289036e-5 * t ** 2 - 2.4780681e-9 * t ** 3 + 6.5459673 * Math.log(t);
  return Math.exp(over);
};

/* None for what is no air: an empty or impossible field. */
export const grainsPerPound = (dryBulbF, rhPct, elevationFt = 0) => {
  if (![dryBulbF, rhPct].every(Number.isFinite) || dryBulbF < -40 || dryBulbF > 200 || rhPct < 0.1 || rhPct > 100) return null;
  const pressure = 14.696 * (1 - 6.8754e-6 * elevationFt) ** 5.2559;
  const vapor = (saturationPsia(dryBulbF) * rhPct) / 100;
  return vapor < pressure ? (GRAINS_PER_LB * 0.621945 * vapor) / (pressure - vapor) : null;
};

const typedIn = (field) => (field.value.trim() ? Number(field.value.trim()) : NaN);

const grainsOf = (form, place) => {
  const [t, h] = [form.elements[`t_${place}`], form.elements[`h_${place}`]];
  return t && h ? grainsPerPound(typedIn(t), typedIn(h), Number(form.dataset.elevation) || 0) : null;
};

/* An outlet is measured against the air of its own chamber. */
const insideOf = (form, outlet) => {
  const chambers = [...form.querySelectorAll("[data-place^=inside]")];
  return (chambers.find((place) => place.dataset.chamber === outlet.dataset.chamber) || chambers[0])?.dataset.place;
};

const say = (form) => {
  for (const place of form.querySelectorAll("[data-place]")) {
    const grains = grainsOf(form, place.dataset.place);
    const said = place.querySelector("[data-grains]");
    const last = Number(place.dataset.last);
    let words = grains === null ? "" : `${grains.toFixed(1)} grains per pound`;
    if (words && place.dataset.last) words += `, last time ${last.toFixed(1)}`;
    const inside = place.dataset.place.startsWith("outlet") ? grainsOf(form, insideOf(form, place)) : null;
    if (words && inside !== null) words += `. Grain depression ${(inside - grains).toFixed(1)}`;
    said.hidden = !words;
    said.textContent = words && `${words}.`;
  }
};

document.addEventListener("input", (event) => {
  const form = event.target.closest("form[data-elevation]");
  if (form && /^[th]_/.test(event.target.name)) say(form);
});
