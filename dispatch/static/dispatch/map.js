// The map page: county outlines that need no network, and our own points in three shapes.
const box = document.getElementById("map");
const map = L.map(box, { zoomControl: true, attributionControl: Boolean(box.dataset.tiles) });
const ink = getComputedStyle(document.documentElement).getPropertyValue("--soft").trim();
const strong = getComputedStyle(document.documentElement).getPropertyValue("--ink").trim();
if (box.dataset.tiles) {
  L.tileLayer(box.dataset.tiles, { attribution: box.dataset.credit }).addTo(map);
}

const shapes = {
  warehouse: '<rect x="3" y="3" width="14" height="14"/>',
  job: '<circle cx="10" cy="10" r="6" fill="none" stroke-width="3"/>',
  crew: '<path d="M10 2 L18 17 L2 17 Z"/>',
};

function marker(feature, at) {
  const what = feature.properties.what;
  const icon = L.divIcon({
    className: `map-mark map-${what}`,
    html: `<svg viewBox="0 0 20 20" width="28" height="28" fill="${strong}" stroke="${strong}" aria-hidden="true">${shapes[what]}</svg>`,
    iconSize: [28, 28],
    // A crew often stands at a warehouse: beside it, not on top of it.
    iconAnchor: what === "crew" ? [-14, 14] : [14, 14],
  });
  return L.marker(at, { icon, alt: feature.properties.text, title: feature.properties.text });
}

function said(feature) {
  const line = document.createElement("p");
  line.textContent = feature.properties.text;
  if (feature.properties.number) {
    const link = document.createElement("a");
    link.href = `/desk/jobs/${encodeURIComponent(feature.properties.number)}`;
    link.textContent = " Open";
    line.append(link);
  }
  return line;
}

async function read(address) {
  const answer = await fetch(address, { headers: { Accept: "application/json" } });
  if (!answer.ok) throw new Error(`${address}: ${answer.status}`);
  return answer.json();
}

try {
  const [counties, points] = await Promise.all([read(box.dataset.counties), read(box.dataset.features)]);
  L.geoJSON(counties, { style: { color: ink, weight: 1, fill: false }, interactive: false }).addTo(map);
  const layer = L.geoJSON(points, { pointToLayer: marker, onEachFeature: (f, l) => l.bindPopup(() => said(f)) }).addTo(map);
  map.fitBounds(layer.getBounds().isValid() ? layer.getBounds().pad(0.1) : [[44, -124], [47, -119]]);
} catch (error) {
  map.setView([45.5, -122.6], 8);
  const line = document.createElement("p");
  line.className = "refusal";
  line.textContent = `The map could not be filled (${error.message}). Load the page again.`;
  box.before(line);
}
