// What every way to a scale shares: its bytes as text, and when a reading counts.
export const hex = (view) => [...new Uint8Array(view.buffer, view.byteOffset, view.byteLength)].map((one) => one.toString(16).padStart(2, "0")).join("");

// What came in lies steady once `enough` equal readings have come over `during` milliseconds.
export const steadily = (button, enough, during, take) => {
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
