// The scale by wire. It fills the field, a person sends it. A way is fetched where the browser offers it.
// inventory/measure/wire.py reads the record anew.
import "./scale-unit.js";

const WAYS = [
  ["bluetooth", "Take it from the Bluetooth scale", "./scale-bluetooth.js"],
  ["hid", "Take it from the USB scale", "./scale-usb.js"],
];

const fill = (place, text, record) => {
  const form = place.closest("form");
  const field = form.elements[place.dataset.scale];
  const raw = form.elements[`${field.name}_raw`] || document.createElement("input");
  Object.assign(raw, { type: "hidden", name: `${field.name}_raw`, value: record });
  form.append(raw);
  field.value = text;
  field.dispatchEvent(new Event("input", { bubbles: true }));
};

const whyNot = () => {
  if (!isSecureContext) return "A scale by wire needs https, or the machine that serves these pages. Type what it shows.";
  return "This browser reads no scale by Bluetooth or USB. Type what it shows.";
};

export const arrive = (alarm) => {
  const offered = WAYS.filter(([name]) => navigator[name]);
  const places = document.querySelectorAll("[data-scale]:empty");
  for (const place of places) for (const [, words, way] of offered) {
    const button = document.createElement("button");
    Object.assign(button, { type: "button", textContent: words });
    const there = import(way);
    const taken = (text, record) => { fill(place, text, record); button.textContent = words; };
    button.onclick = () => there.then((it) => it.take(button, taken)).catch((error) => {
      button.textContent = words;
      alarm(`The scale did not answer: ${error.message}`);
    });
    place.append(button);
  }
  if (offered.length || !places.length || document.querySelector(".no-wire")) return;
  const why = document.createElement("details");
  why.className = "no-wire quiet";
  why.innerHTML = "<summary>No scale by wire here</summary>";
  why.append(whyNot());
  places[0].append(why);
};
