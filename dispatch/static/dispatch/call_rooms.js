/* The rooms: one line each, always a blank one at the end, taken off and put back by keyboard. */

export const roomRows = (form, { changed }) => {
  const list = form.querySelector("#room-rows");
  const pattern = list.querySelector("[data-room=new]");
  pattern.remove();

  const newId = () => Math.random().toString(36).slice(2, 10);
  const rename = (row, id) => {
    row.dataset.room = id;
    for (const element of row.querySelectorAll("*")) {
      for (const name of ["id", "for", "name", "data-field", "data-holds"]) {
        const value = element.getAttribute(name);
        if (value) element.setAttribute(name, value.replace(/room([:-])new([:-])/, `room$1${id}$2`));
      }
    }
    return row;
  };
  const lines = () => [...list.querySelectorAll("[data-line]")].filter((line) => !line.closest("[data-removed]"));
  const label = () => {
    for (const [index, row] of [...list.children].entries()) {
      row.querySelector("[data-room-label]").textContent = `${index + 1}`;
    }
  };
  const add = (id = newId()) => {
    const row = rename(pattern.cloneNode(true), id);
    list.append(row);
    label();
    return row.querySelector("[data-line]");
  };
  const keepBlank = () => {
    const last = lines().at(-1);
    if (!last || last.value.trim()) add();
  };
  const removed = (button, off) => {
    const row = button.closest("[data-room]");
    row.toggleAttribute("data-removed", off);
    row.querySelector("[data-line]").readOnly = off;
    button.textContent = off ? "Put back" : "Take off";
    button.dataset.value = off ? "yes" : "no";
  };

  list.addEventListener("click", (event) => {
    const button = event.target.closest("[data-remove]");
    if (!button) return;
    const row = button.closest("[data-room]");
    if (!row.querySelector("[data-line]").value.trim()) return;
    removed(button, !row.hasAttribute("data-removed"));
    changed(button);
    keepBlank();
  });
  for (const button of list.querySelectorAll("[data-removed] [data-remove]")) removed(button, true);
  label();

  return {
    keepBlank,
    removed,
    after: (line) => {
      keepBlank();
      const all = lines();
      const next = all[all.indexOf(line) + 1];
      if (line.value.trim()) return next;
      // Enter on the blank line: the rooms are done, on to what comes after them.
      const group = form.querySelector("#rooms").nextElementSibling;
      return group.querySelector("input:not([type=hidden]), select");
    },
    addMissing: (names) => {
      for (const name of names) {
        const id = name.startsWith("room:") ? name.split(":")[1] : "";
        if (id && !list.querySelector(`[data-room="${CSS.escape(id)}"]`)) {
          const blank = lines().at(-1);
          const line = add(id);
          if (blank && !blank.value.trim() && document.activeElement !== blank) blank.closest("[data-room]").remove();
          label();
          line.closest("[data-room]").dataset.room = id;
        }
      }
      keepBlank();
    },
  };
};
