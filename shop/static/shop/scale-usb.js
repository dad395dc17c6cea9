// A scale on USB: the weighing devices of HID usage page 0x8D. Its record is read anew by inventory/measure/wire.py, where the source of the layout stands.
import { hex, steadily } from "./scale-steady.js";

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

export const take = async (button, taken) => {
  const filters = [{ usagePage: 0x8d }];
  const known = (await navigator.hid.getDevices()).find((one) => everyCollection(one.collections).some((it) => it.usagePage === 0x8d));
  const device = known || (await navigator.hid.requestDevice({ filters }))[0];
  if (!device) return; // none was chosen
  if (!device.opened) await device.open();
  const heard = steadily(button, 2, 0, (...what) => { device.oninputreport = null; device.close(); taken(...what); });
  button.textContent = "Waiting for the scale ...";
  device.oninputreport = (event) => heard(ofUsb(device, event.reportId, event.data));
};
