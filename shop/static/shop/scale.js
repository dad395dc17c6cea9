// The scale by wire, by two open standards: Bluetooth's Weight Scale Service (0x181D, Weight Measurement 0x2A9D) and the
// weighing devices of USB (HID usage page 0x8D). It fills the field, a person sends it; inventory/measure/wire.py reads
// the record anew. The layouts' sources stand there.
const STEADY_MS = 2000;
const hex = (view) => [...new Uint8Array(view.buffer, view.byteOffset, view.byteLength)].map((one) => one.toString(16).padStart(2, "0")).join("");

// Bluetooth: no bit says that the load is at rest, so three equal readings over two seconds do.
const ofBluetooth = (view) => {
  const count = view.byteLength < 3 ? 0xffff : view.getUint16(1, true);
  if (count === 0xffff) return { wait: "The scale could not measure" };
  return { text: view.getUint8(0) & 1 ? `${(count / 100).toFixed(2)} lb` : `${(count / 200).toFixed(3)} kg`, record: `bluetooth ${hex(view)}` };
};

const UNITS = { 0x51: "mg", 0x52: "g", 0x53: "kg", 0x58: "t", 0x5b: "oz", 0x5c: "lb" };
const WAIT = {
  0x71: "The scale reports a fault",
  0x73: "The load is moving",
  0x75: "The scale is under zero",
  0x76: "There is more on the scale than it weighs",
  0x77: "The scale asks to be calibrated",
  0x78: "The scale asks to be set to zero",
};
const bitsOf = (view, at, size, signed) => {
  let value = 0;
  for (let bit = 0; bit < size; bit++) if ((view.getUint8((at + bit) >> 3) >> ((at + bit) & 7)) & 1) value += 2 ** bit;
  return signed && value >= 2 ** (size - 1) ? value - 2 ** size : value;
};
const named = (item, index) => (item.isRange ? item.usageMinimum + index : (item.usages || [])[index]);
const everyCollection = (collections) => collections.flatMap((one) => [one, ...everyCollection(one.children || [])]);

// USB: the descriptor of the scale says where in a report stands what.
const ofUsb = (device, reportId, view) => {
  const found = {};
  for (const report of everyCollection(device.collections).flatMap((one) => one.inputReports || [])) {
    if (report.reportId !== reportId) continue;
    let at = 0;
    for (const item of report.items || []) for (let which = 0; which < item.reportCount; which++, at += item.reportSize) {
      if (item.isConstant || at + item.reportSize > view.byteLength * 8) continue;
      const value = bitsOf(view, at, item.reportSize, item.logicalMinimum < 0);
      const usage = item.isArray ? named(item, value - item.logicalMinimum) : named(item, which);
      if (usage === undefined || usage >>> 16 !== 0x8d) continue;
      const its = usage & 0xffff;
      if (its === 0x40) found.weight = value;
      else if (its === 0x41) found.scaling = value;
      else if (item.isArray || value) {
        if (its > 0x50 && its < 0x5d) found.unit = its;
        if (its > 0x70 && its < 0x79) found.status = its;
      }
    }
  }
  if (found.weight === undefined) return {};
  const { status, unit, scaling = 0, weight } = found;
  if (![0x72, 0x74].includes(status)) return { wait: WAIT[status] || "The scale does not say whether the load is at rest" };
  if (!UNITS[unit]) return { wait: "The scale shows a unit that no cylinder is weighed in: switch it over" };
  const [two, sixteen] = [status.toString(16), unit.toString(16)];
  const digits = scaling < 0 ? `${weight}`.padStart(1 - scaling, "0") : `${weight}${"0".repeat(scaling)}`;
  const number = scaling < 0 ? `${digits.slice(0, scaling)}.${digits.slice(scaling)}` : digits;
  return { text: `${number} ${UNITS[unit]}`, record: `usb ${two} ${sixteen} ${scaling} ${weight} ${hex(view)}` };
};

// What came in lies steady once `enough` equal readings have come over `during` milliseconds.
const steadily = (button, enough, during, take) => {
  let same = [];
  return ({ text, record, wait }) => {
    if (wait) { same = []; button.textContent = `${wait} ...`; }
    if (!text) return;
    if (same.length && same[0].text !== text) same = [];
    same.push({ text, at: performance.now() });
    button.textContent = `${text} ...`;
    if (same.length >= enough && same[same.length - 1].at - same[0].at >= during) take(text, record);
  };
};

const viaBluetooth = async (button, taken) => {
  const device = await navigator.bluetooth.requestDevice({ filters: [{ services: [0x181d] }] });
  const server = await device.gatt.connect();
  const measured = await (await server.getPrimaryService(0x181d)).getCharacteristic(0x2a9d);
  const heard = steadily(button, 3, STEADY_MS, (...what) => { device.gatt.disconnect(); taken(...what); });
  measured.addEventListener("characteristicvaluechanged", () => heard(ofBluetooth(measured.value)));
  await measured.startNotifications();
};

const viaUsb = async (button, taken) => {
  const filters = [{ usagePage: 0x8d }];
  const known = (await navigator.hid.getDevices()).find((one) => everyCollection(one.collections).some((it) => it.usagePage === 0x8d));
  const device = known || (await navigator.hid.requestDevice({ filters }))[0];
  if (!device) return; // none was chosen
  if (!device.opened) await device.open();
  const heard = steadily(button, 2, 0, (...what) => { device.oninputreport = null; device.close(); taken(...what); });
  button.textContent = "Waiting for the scale ...";
  device.oninputreport = (event) => heard(ofUsb(device, event.reportId, event.data));
};

const WAYS = [
  ["bluetooth", "Take it from the Bluetooth scale", viaBluetooth],
  ["hid", "Take it from the USB scale", viaUsb],
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
    button.onclick = () => way(button, (text, record) => { fill(place, text, record); button.textContent = words; }).catch((error) => {
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
