/* Unit numbers by the phone's camera, where the browser can read codes; everywhere else the field is typed in. */

const FORMATS = ["qr_code", "code_128", "code_39", "data_matrix"];
const LOOK_MS = 250;

const button = (text) => Object.assign(document.createElement("button"), { type: "button", className: "action second", textContent: text });

const add = (field, read) => {
  const number = read.match(/(\d{4,6})(?!.*\d)/)?.[1];
  if (!number || field.value.split(/[\s,]+/).includes(number)) return;
  field.value = `${field.value.trim()} ${number}`.trim();
  field.dispatchEvent(new Event("input", { bubbles: true }));
  navigator.vibrate?.(60);
};

const scan = async (field, open, detector) => {
  const stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
  const video = Object.assign(document.createElement("video"), { className: "camera", muted: true, playsInline: true, srcObject: stream });
  const close = button("Close the camera");
  open.replaceWith(video, close);
  const stop = () => {
    clearInterval(looking);
    for (const track of stream.getTracks()) track.stop();
  };
  const looking = setInterval(async () => {
    /* The page was answered meanwhile: nobody looks at this picture any more, so the camera goes off. */
    if (!video.isConnected) return stop();
    if (video.readyState < HTMLMediaElement.HAVE_CURRENT_DATA) return undefined;
    const codes = await detector.detect(video).catch(() => []);
    for (const code of codes) add(field, code.rawValue);
    return undefined;
  }, LOOK_MS);
  close.addEventListener("click", () => {
    stop();
    video.remove();
    close.replaceWith(open);
    field.focus();
  });
  await video.play();
};

const offer = async () => {
  if (!window.BarcodeDetector || !navigator.mediaDevices?.getUserMedia) return;
  const formats = (await window.BarcodeDetector.getSupportedFormats()).filter((format) => FORMATS.includes(format));
  if (!formats.length) return;
  const detector = new window.BarcodeDetector({ formats });
  const put = () => {
    for (const field of document.querySelectorAll("input.scan:not([data-camera])")) {
      field.dataset.camera = "yes";
      const open = button("Scan with the camera");
      const failed = () => { open.textContent = "The camera is not available: type the digits"; open.disabled = true; field.focus(); };
      open.addEventListener("click", () => scan(field, open, detector).catch(failed));
      field.after(open);
    }
  };
  put();
  /* A step kept without a network brings its forms later. */
  new MutationObserver(put).observe(document.getElementById("main"), { childList: true, subtree: true });
};

offer().catch((error) => console.info("No camera for scanning:", error));
