// An assessor's answer gets its id here, in the browser: sent again, it is known and counts once.
(() => {
  "use strict";
  const hex = (byte) => byte.toString(16).padStart(2, "0");
  const made = () => {
    // As crypto.randomUUID, which a page over plain HTTP on the local network does not have.
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    bytes[6] = (bytes[6] & 0x0f) | 0x40;
    bytes[8] = (bytes[8] & 0x3f) | 0x80;
    const text = Array.from(bytes, hex).join("");
    return [[0, 8], [8, 12], [12, 16], [16, 20], [20, 32]].map(([from, to]) => text.slice(from, to)).join("-");
  };
  const form = document.querySelector("form[data-own-id]");
  const box = form?.querySelector('[name="client_id"]');
  // After a refusal the form comes back with the id it was sent under.
  if (box && !form.querySelector(".errorlist")) box.value = made();
})();
