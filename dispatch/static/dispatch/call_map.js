/* Pointing at a place: county outlines that need no network; the map's code is fetched when somebody opens it. */

const part = document.getElementById("point-map");
const field = document.querySelector("[data-field=point]");
const found = part.querySelector("[data-found]");

const take = (point) => {
  field.value = point;
  field.dispatchEvent(new Event("input", { bubbles: true }));
  field.dispatchEvent(new Event("change", { bubbles: true }));
};

const loaded = () => new Promise((done, failed) => {
  const script = document.createElement("script");
  script.src = part.dataset.leaflet;
  script.addEventListener("load", done);
  script.addEventListener("error", () => failed(new Error("the map's code did not load")));
  document.head.append(script);
});

const known = () => {
  const typed = field.value.split(",").map(Number);
  if (typed.length === 2 && typed.every(Number.isFinite)) return [typed, 13];
  const place = document.querySelector("#place [data-lat]");
  return place ? [[Number(place.dataset.lat), Number(place.dataset.lon)], 12] : [[45.6, -122.4], 8];
};

const draw = async () => {
  await loaded();
  const style = getComputedStyle(document.documentElement);
  const map = L.map(part.querySelector(".map"), { attributionControl: Boolean(part.dataset.tiles) });
  map.setView(...known());
  if (part.dataset.tiles) L.tileLayer(part.dataset.tiles, { attribution: part.dataset.credit }).addTo(map);
  const mark = L.circleMarker(map.getCenter(), { radius: 8, color: style.getPropertyValue("--ink").trim() }).addTo(map);
  const point = (at) => {
    mark.setLatLng(at);
    take(`${at.lat.toFixed(6)}, ${at.lng.toFixed(6)}`);
  };
  map.on("click", (event) => point(event.latlng));
  part.querySelector("[data-middle]").addEventListener("click", () => point(map.getCenter()));
  const response = await fetch(part.dataset.counties);
  const outlines = { color: style.getPropertyValue("--soft").trim(), weight: 1, fill: false };
  L.geoJSON(await response.json(), { style: outlines, interactive: false }).addTo(map);
};

let asked = false;
part.addEventListener("toggle", () => {
  if (asked || !part.open) return;
  asked = true;
  draw().catch((error) => { found.textContent = `The map could not be drawn (${error.message}). Type the coordinates.`; });
});

part.querySelector("[data-look-up]")?.addEventListener("click", async () => {
  found.textContent = "Looking up the street.";
  try {
    const answer = await (await fetch(part.dataset.find, { headers: { Accept: "application/json" } })).json();
    found.replaceChildren(answer.message, ...answer.found.map(({ words, point }) => {
      const button = document.createElement("button");
      button.type = "button";
      button.className = "action second";
      button.textContent = words;
      button.addEventListener("click", () => take(point));
      return button;
    }));
  } catch {
    found.textContent = "The server cannot be reached. The ZIP or coordinates will do.";
  }
});
