// F1 anywhere, or a question mark outside a field, unfolds the help of this page. The cursor stays where it is.
const here = document.getElementById("help-here");

document.addEventListener("keydown", (event) => {
  const typing = event.target.closest("input, select, textarea");
  if (!here || (event.key !== "F1" && (event.key !== "?" || typing))) return;
  event.preventDefault();
  here.open = !here.open;
  if (here.open) here.scrollIntoView({ block: "nearest" });
});
