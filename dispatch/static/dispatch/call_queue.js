/* What is typed and not yet saved, kept in this browser by field, in the order of the last change. */

const newKey = () => {
  if (window.crypto.randomUUID) return window.crypto.randomUUID();
  // Without a secure connection browsers hide randomUUID; the same bits are made by hand (RFC 9562, version 4).
  const bytes = window.crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
};

export const keptQueue = (place) => {
  const read = () => {
    try {
      return new Map(JSON.parse(window.localStorage.getItem(place) || "[]"));
    } catch {
      return new Map();
    }
  };
  const waiting = read();
  const keep = () => {
    try {
      if (waiting.size) window.localStorage.setItem(place, JSON.stringify([...waiting]));
      else window.localStorage.removeItem(place);
    } catch {
      // A full or forbidden store: the page itself still holds what was typed.
    }
  };
  return {
    newKey,
    has: (name) => waiting.has(name),
    get: (name) => waiting.get(name),
    names: () => [...waiting.keys()],
    next: () => [...waiting].find(([, entry]) => !entry.held),
    put: (name, entry) => { waiting.delete(name); waiting.set(name, entry); keep(); },
    // Like put, but without losing its place.
    note: (name, entry) => { waiting.set(name, entry); keep(); },
    drop: (name) => { waiting.delete(name); keep(); },
  };
};
