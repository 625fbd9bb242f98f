/* A photo is made small before it is kept on the phone: a day without a network holds many of them. */

const SIDE = 1600;
const SMALL_BYTES = 400_000;

const madeSmall = async (file) => {
  const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
  const by = Math.min(1, SIDE / Math.max(picture.width, picture.height));
  const canvas = Object.assign(document.createElement("canvas"), { width: Math.round(picture.width * by), height: Math.round(picture.height * by) });
  canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
  picture.close();
  const blob = await new Promise((resolve) => canvas.toBlob(resolve, "image/jpeg", 0.82));
  return blob && blob.size < file.size ? new File([blob], "photo.jpg", { type: "image/jpeg" }) : file;
};

document.addEventListener("change", async (event) => {
  const field = event.target;
  if (!field.matches("input[type=file][name=photo]")) return;
  const [file] = field.files;
  if (!file || file.size < SMALL_BYTES || !window.createImageBitmap) return;
  /* Sent before it is small, it would fill the phone's store. */
  const buttons = [...field.form.querySelectorAll("button")];
  for (const button of buttons) button.disabled = true;
  try {
    const chosen = new DataTransfer();
    chosen.items.add(await madeSmall(file));
    /* Another may have been chosen meanwhile. */
    if (field.files[0] === file) field.files = chosen.files;
  } catch (error) {
    console.info("This photo is kept as it is:", error);
  } finally {
    for (const button of buttons) button.disabled = false;
  }
});
