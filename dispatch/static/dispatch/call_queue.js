/*
 * What is typed and not yet saved, kept in this browser by field, in the order of the last change.
 *
 * Twice: local storage is written at once but reaches the disk a minute later, the database survives a browser that is
 * killed. Whichever is newer counts.
 */

const newKey = () => {
  if (window.crypto.randomUUID) return window.crypto.randomUUID();
  // Without a secure connection browsers hide randomUUID; the same bits are made by hand (RFC 9562, version 4).
  const bytes = window.crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
};

const opened = () => new Promise((resolve, reject) => {
  const request = window.indexedDB.open("half-taken calls", 1);
  request.onupgradeneeded = () => request.result.createObjectStore("waiting");
  request.onsuccess = () => resolve(request.result);
  request.onerror = () => reject(request.error);
});

/* The database's record of one call: what was kept last, and writing it, one write at a time and the newest only. */
const keptOnDisk = async (place) => {
  const database = await opened();
  let next;
  let busy = false;
  const write = () => {
    if (busy || !next) return;
    busy = true;
    const transaction = database.transaction("waiting", "readwrite", { durability: "strict" });
    const store = transaction.objectStore("waiting");
    if (next.entries.length) store.put(next, place);
    else store.delete(place);
    next = undefined;
    transaction.commit();
    const done = () => { busy = false; write(); };
    transaction.oncomplete = done;
    transaction.onabort = done;
  };
  const kept = await new Promise((resolve, reject) => {
    const request = database.transaction("waiting").objectStore("waiting").get(place);
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
  return { kept, write: (state) => { next = state; write(); } };
};

/* A browser that forbids or delays its database must not keep anybody from typing. */
const SOON_MS = 1000;
const withinReason = (promise) => Promise.race([
  promise.catch(() => undefined), new Promise((resolve) => { setTimeout(resolve, SOON_MS); }),
]);

/* What stands empty in local storage says that nothing waits; after a day nobody asks. */
const DAY_MS = 24 * 60 * 60 * 1000;
const tidy = () => {
  for (const place of Object.keys(window.localStorage).filter((name) => name.startsWith("ebbline call "))) {
    const state = JSON.parse(window.localStorage.getItem(place));
    if (!state.entries?.length && !(Date.now() - state.at < DAY_MS)) window.localStorage.removeItem(place);
  }
};

export const keptQueue = async (place) => {
  const disk = await withinReason(keptOnDisk(place));
  const read = () => {
    try {
      tidy();
      return JSON.parse(window.localStorage.getItem(place)) || undefined;
    } catch {
      return undefined;
    }
  };
  const states = [read(), disk?.kept].filter((state) => Array.isArray(state?.entries));
  const [newest] = states.sort((one, other) => other.at - one.at);
  const waiting = new Map(newest?.entries || []);
  const keep = () => {
    const state = { at: Date.now(), entries: [...waiting] };
    disk?.write(state);
    try {
      // What is empty is kept as well, or an older state on the disk would count.
      window.localStorage.setItem(place, JSON.stringify(state));
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
