// A scale by Bluetooth's Weight Scale Service (0x181D), Weight Measurement (0x2A9D). Its record is read anew by inventory/measure/wire.py, where the source of the layout stands.
import { hex, steadily } from "./scale-steady.js";

const STEADY_MS = 2000;
// Bluetooth: no bit says that the load is at rest, so three equal readings over two seconds do.
const ofBluetooth = (view) => {
  const count = view.byteLength < 3 ? 0xffff : view.getUint16(1, true);
  if (count === 0xffff) return { wait: "The scale could not measure" };
  return { text: view.getUint8(0) & 1 ? `${(count / 100).toFixed(2)} lb` : `${(count / 200).toFixed(3)} kg`, record: `bluetooth ${hex(view)}` };
};

export const take = async (button, taken) => {
  const device = await navigator.bluetooth.requestDevice({ filters: [{ services: [0x181d] }] });
  const server = await device.gatt.connect();
  const measured = await (await server.getPrimaryService(0x181d)).getCharacteristic(0x2a9d);
  const heard = steadily(button, 3, STEADY_MS, (...what) => { device.gatt.disconnect(); taken(...what); });
  measured.addEventListener("characteristicvaluechanged", () => heard(ofBluetooth(measured.value)));
  await measured.startNotifications();
};
