// Where the loss is, clicked instead of typed. The map is made when it is first opened; the field stays the truth.
const panel = document.getElementById("pick");
const box = document.getElementById("pick-map");
let map = null;

function shown(text) {
  const parts = text.split(/[ ,]+/).map(Number);
  return parts.length === 2 && parts.every(Number.isFinite) ? parts : null;
}

async function open() {
  const field = document.getElementById(box.dataset.into);
  const here = shown(field.value);
  map = L.map(box, { attributionControl: false }).setView(here ?? [45.6, -122.6], here ? 12 : 8);
  const mark = L.circleMarker(here ?? [0, 0], { radius: 8, color: getComputedStyle(box).color, weight: 3 });
  if (here) mark.addTo(map);
  map.on("click", ({ latlng }) => {
    mark.setLatLng(latlng).addTo(map);
    field.value = `${latlng.lat.toFixed(5)}, ${latlng.lng.toFixed(5)}`;
    field.dispatchEvent(new Event("input", { bubbles: true }));
    field.dispatchEvent(new Event("change", { bubbles: true }));
  });
  const answer = await fetch(box.dataset.counties);
  if (!answer.ok) {
    box.before(`The county outlines could not be read (${answer.status}). Type the coordinates instead.`);
    return;
  }
  const style = { color: getComputedStyle(box).color, weight: 1, fill: false };
  L.geoJSON(await answer.json(), { style, interactive: false }).addTo(map);
}

panel?.addEventListener("toggle", () => {
  if (panel.open && map === null) open();
});
