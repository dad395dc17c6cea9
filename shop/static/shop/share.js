// Sharing a paper from the phone: where the browser hands files on, a button gives it the PDF itself.
const offer = (place) => {
  const file = (bytes) => new File([bytes], place.dataset.name, { type: "application/pdf" });
  if (!navigator.canShare?.({ files: [file("")] })) return;
  const said = document.createElement("span");
  const button = Object.assign(document.createElement("button"), { type: "button", textContent: "Share the PDF" });
  button.addEventListener("click", async () => {
    said.textContent = "";
    try {
      const answer = await fetch(place.dataset.share);
      if (!answer.ok) throw new Error();
      await navigator.share({ files: [file(await answer.blob())], title: place.dataset.title });
    } catch (error) {
      if (error.name !== "AbortError") said.textContent = " It could not be shared. Take the PDF and send it from there.";
    }
  });
  said.setAttribute("role", "status");
  place.append(button, said);
};
export const arrive = () => {
  for (const place of document.querySelectorAll("[data-share]:empty")) offer(place);
};
