// Photos: those taken one after the other are sent together, each made smaller before it goes.
const LONGEST = 2048;
const smaller = async (file) => {
  if (file.size < 1e6) return file;
  try {
    const image = await createImageBitmap(file);
    const share = Math.min(1, LONGEST / Math.max(image.width, image.height));
    const canvas = document.createElement("canvas");
    [canvas.width, canvas.height] = [Math.round(image.width * share), Math.round(image.height * share)];
    canvas.getContext("2d").drawImage(image, 0, 0, canvas.width, canvas.height);
    const drawn = await new Promise((done) => canvas.toBlob(done, "image/jpeg", 0.92));
    return drawn && drawn.size < file.size ? new File([drawn], file.name.replace(/\.\w+$/, ".jpg"), { type: "image/jpeg" }) : file;
  } catch { return file; } // what this browser cannot draw is judged by the server
};
const gathered = new WeakMap();
const show = (input, files) => {
  const bundle = new DataTransfer();
  files.forEach((file) => bundle.items.add(file));
  input.files = bundle.files;
  gathered.set(input, files);
  const said = input.parentElement.querySelector("output") || input.parentElement.insertBefore(document.createElement("output"), input.nextSibling);
  said.textContent = files.length ? `${files.length} photo${files.length > 1 ? "s" : ""} to be sent ` : "";
  if (!files.length) return;
  const none = document.createElement("button");
  Object.assign(none, { type: "button", textContent: "Leave them out", onclick: () => show(input, []) });
  said.append(none);
};
document.addEventListener("change", async (event) => {
  const input = event.target;
  if (!input.matches("[data-photos]") || !input.files.length) return;
  const before = gathered.get(input) || [];
  const chosen = [...input.files];
  show(input, [...before, ...chosen]);
  for (const file of chosen) {
    const made = await smaller(file);
    const now = gathered.get(input);
    if (input.form && !input.form.dataset.busy && now.includes(file)) show(input, now.map((one) => (one === file ? made : one)));
  }
});
export const arrive = () => {}; // it listens to every field there will be
