// A figure with its unit: a key that parts pounds from ounces, and a press that comes before it was said what was read.
const PATIENCE_MS = 3000;
const NOT_WRITING = /^(change|go)$|_(more|reading)$/; // buttons that only lead on, or answer a question
const boxOf = (element) => element.closest && element.closest(".quantity[hx-get]");
const inputOf = (box) => box.querySelector("input[type=text]");
let typed = 0;
let held = null; // a press that waits: its form, its button, and the figures that it waits for

// Pounds, then ounces: many a keypad has no blank.
const parts = (input) => {
  input.value = `${input.value.replace(/ *lb *$/, "").trim()} lb `;
  input.focus();
  input.setSelectionRange(input.value.length, input.value.length);
};

// A press that came too soon waits for what was read, which is then said beside the button: the next press writes it.
const unread = (form) => [...form.querySelectorAll(".quantity[data-typed]")].filter((box) => inputOf(box).value.trim());
const take = () => {
  const taken = held;
  clearTimeout(taken.timer);
  held = null;
  return taken;
};
const letGo = () => {
  const { form, button } = take();
  form.dataset.through = "1";
  if (form.isConnected) form.requestSubmit(button);
};
const sayBeside = () => {
  const read = held.boxes.map((box) => box.querySelector(".echo:has([name=seen])")?.innerText.replace(/^Read as /, "").replace(/\.?\s*$/, ""));
  if (!read.every(Boolean)) return letGo(); // it cannot be read, or is read back in any case: the answer says so
  const { form, button } = take();
  const said = form.querySelector(".press-again") || document.createElement("p");
  said.className = "press-again lead";
  said.setAttribute("role", "status");
  button.closest("p").before(said);
  said.textContent = `Read as ${read.join("; ").replace(/\s+/g, " ")}. Press again if that is right.`;
};
addEventListener("submit", (event) => {
  const form = event.target;
  const button = event.submitter && event.submitter.className !== "enter" ? event.submitter : form.querySelector("button.main");
  const { through } = form.dataset;
  delete form.dataset.through;
  if (through || form.method !== "post" || !button || NOT_WRITING.test(button.name)) return;
  const boxes = unread(form);
  if (!boxes.length) return;
  event.preventDefault();
  event.stopImmediatePropagation();
  held = held || { form, button, boxes, timer: setTimeout(letGo, PATIENCE_MS) };
}, true);

addEventListener("input", ({ target }) => {
  const box = boxOf(target);
  if (box) box.dataset.typed = ++typed;
}, true);
const on = (name, act) => document.addEventListener(`htmx:${name}`, ({ detail }) => {
  if (boxOf(detail.elt) === detail.elt) act(detail.elt);
});
const answered = (box) => {
  if (box.dataset.asked === box.dataset.typed) delete box.dataset.typed;
  if (held && held.form.contains(box) && !unread(held.form).length) sayBeside();
};
on("beforeRequest", (box) => { box.dataset.asked = box.dataset.typed || ""; });
on("afterRequest", answered);

export const arrive = () => {
  for (const place of document.querySelectorAll("[data-pounds]:empty")) {
    const key = document.createElement("button");
    Object.assign(key, { type: "button", textContent: "lb" });
    key.setAttribute("aria-label", "lb, then the ounces");
    key.onclick = () => parts(inputOf(place.closest(".quantity")));
    place.append(key, Object.assign(document.createElement("span"), { className: "hint", textContent: "36 6.5 is 36 lb 6.5 oz" }));
  }
};
