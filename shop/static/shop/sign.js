// A drawn signature: strokes of a finger, a pen or a mouse, as points of a field of 600 by 200, sent with the form.
const WIDE = 600, HIGH = 200;
const made = (name, more) => Object.assign(document.createElement(name), more);
const begin = (pad, form) => {
  const field = form.elements.drawn;
  const canvas = made("canvas", { width: WIDE, height: HIGH, tabIndex: -1 });
  const pen = canvas.getContext("2d");
  let strokes = [];
  try { strokes = JSON.parse(field.value || "[]"); } catch { field.value = ""; }
  const draw = () => {
    pen.fillStyle = "#fff";
    pen.fillRect(0, 0, WIDE, HIGH);
    Object.assign(pen, { lineWidth: 3, lineCap: "round", lineJoin: "round", strokeStyle: "#000" });
    for (const stroke of strokes) {
      pen.beginPath();
      [...stroke, stroke[stroke.length - 1]].forEach(([x, y], at) => (at ? pen.lineTo(x, y) : pen.moveTo(x, y)));
      pen.stroke();
    }
  };
  const keep = () => { field.value = strokes.length ? JSON.stringify(strokes) : ""; draw(); };
  const point = (event) => {
    const box = canvas.getBoundingClientRect();
    const within = (part, whole) => Math.round(Math.min(1, Math.max(0, part)) * whole);
    return [within((event.clientX - box.left) / box.width, WIDE), within((event.clientY - box.top) / box.height, HIGH)];
  };
  let drawing = false;
  canvas.addEventListener("pointerdown", (event) => { drawing = true; canvas.setPointerCapture(event.pointerId); strokes.push([point(event)]); draw(); });
  canvas.addEventListener("pointermove", (event) => { if (drawing) { strokes[strokes.length - 1].push(point(event)); draw(); } });
  for (const end of ["pointerup", "pointercancel"]) canvas.addEventListener(end, () => { if (drawing) { drawing = false; keep(); } });
  canvas.setAttribute("role", "img");
  canvas.setAttribute("aria-label", "Field to draw the signature in; the typed name counts without it");
  pad.append(
    made("p", { textContent: "Draw the signature here, if wanted." }), canvas,
    made("button", { type: "button", textContent: "Clear the drawing", onclick: () => { strokes = []; keep(); } }),
  );
  form.querySelector(".acts").before(pad);
  draw();
};
export const arrive = () => {
  for (const pad of document.querySelectorAll("[data-sign]:empty")) begin(pad, document.getElementById(pad.dataset.sign));
};
