/*
 * F1 unfolds the help of the part in which the cursor stands; elsewhere F1, or a question mark outside a field, that of
 * the page. The cursor stays where it is, also when the part's own question mark is pressed; nothing unfolds by itself.
 */
const page = document.getElementById("help-here");

const unfold = (group) => {
  const [help, button] = [group.querySelector("[data-help]"), group.querySelector(".group-help")];
  help.hidden = !help.hidden;
  button.setAttribute("aria-expanded", String(!help.hidden));
  if (!help.hidden) help.scrollIntoView({ block: "nearest" });
};

document.addEventListener("keydown", (event) => {
  const typing = event.target.closest("input, select, textarea");
  if (event.key !== "F1" && (event.key !== "?" || typing)) return;
  const group = event.key === "F1" && event.target.closest(".group");
  if (group && group.querySelector("[data-help]")) {
    event.preventDefault();
    unfold(group);
    return;
  }
  if (!page) return;
  event.preventDefault();
  page.open = !page.open;
  if (page.open) page.scrollIntoView({ block: "nearest" });
});

for (const button of document.querySelectorAll(".group-help")) {
  button.addEventListener("mousedown", (event) => event.preventDefault());
  button.addEventListener("click", () => unfold(button.closest(".group")));
}
