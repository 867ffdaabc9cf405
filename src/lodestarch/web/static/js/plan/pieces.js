/**
 * A part that lies in several places of the page: each piece has a name, and takes what the piece of that name
 * in the new part holds. What is the same stays, so that nothing moves or is said again without need.
 */

/** @param {HTMLElement} inside @param {string} html */
export function putPieces(inside, html) {
  const made = document.createElement("template");
  made.innerHTML = html;
  for (const piece of made.content.querySelectorAll("[data-piece]")) {
    const old = inside.querySelector(`[data-piece="${piece.dataset.piece}"]`);
    if (!old || old.outerHTML === piece.outerHTML) continue;
    const open = [...old.querySelectorAll("details[open][id]")].map((one) => one.id);
    old.replaceWith(piece);
    for (const id of open) document.getElementById(id)?.setAttribute("open", "");
  }
}
