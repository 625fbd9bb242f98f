/* Where forms wait until the server has them: one store on the device, in the order in which they were filled in. */

let opening;

const open = () => {
  opening ??= new Promise((resolve, reject) => {
    const request = indexedDB.open("outbox", 1);
    request.onupgradeneeded = () => request.result.createObjectStore("entries", { keyPath: "order", autoIncrement: true });
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
  return opening;
};

const within = async (mode, act) => {
  const database = await open();
  return new Promise((resolve, reject) => {
    const transaction = database.transaction("entries", mode, { durability: "strict" });
    const request = act(transaction.objectStore("entries"));
    transaction.oncomplete = () => resolve(request.result);
    transaction.onabort = () => reject(transaction.error);
  });
};

/* An entry: order, who, name, key, url, page, title, typed, fields, happenedAt, state, tries, anyway, refusal. */
export const add = (entry) => within("readwrite", (entries) => entries.add(entry));
export const put = (entry) => within("readwrite", (entries) => entries.put(entry));
export const remove = (order) => within("readwrite", (entries) => entries.delete(order));
export const all = () => within("readonly", (entries) => entries.getAll());
