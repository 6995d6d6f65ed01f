/* A melt is dragged to another session: the same as its form's "Move and pin", sent by the hand. */
(() => {
  "use strict";
  const board = document.getElementById("board");
  if (!board) return;
  let dragged = null;
  const slot = (event) => event.target.closest && event.target.closest(".slot");

  board.addEventListener("dragstart", (event) => {
    dragged = event.target.closest("[data-melt]");
    if (!dragged) return;
    event.dataTransfer.effectAllowed = "move";
    event.dataTransfer.setData("text/plain", dragged.dataset.melt);
    board.classList.add("dragging");
  });
  board.addEventListener("dragend", () => {
    board.classList.remove("dragging");
    board.querySelectorAll(".over").forEach((one) => one.classList.remove("over"));
    dragged = null;
  });
  board.addEventListener("dragover", (event) => {
    const over = slot(event);
    if (!dragged || !over) return;
    event.preventDefault();
    board.querySelectorAll(".over").forEach((one) => one !== over && one.classList.remove("over"));
    over.classList.add("over");
  });
  board.addEventListener("drop", (event) => {
    const onto = slot(event);
    if (!dragged || !onto || onto.contains(dragged)) return;
    event.preventDefault();
    const token = dragged.querySelector("input[name=csrfmiddlewaretoken]").value;
    htmx.ajax("POST", dragged.dataset.melt, {
      target: board, swap: "innerHTML",
      values: { do: "move", to: onto.dataset.session, csrfmiddlewaretoken: token },
    });
  });
})();
