/** Parts of the page that the workbench draws: asked for, and put in place without disturbing the hand. */
import { inField } from "../keys.js";

/** Ask for a part; nothing where the workbench does not answer or does not know this browser. */
export async function part(path) {
  try {
    const response = await fetch(path, { headers: { Accept: "text/html" } });
    const html = await response.text();
    return response.ok || response.status === 404 ? { found: response.ok, html } : null;
  } catch {
    return null;
  }
}

/** Where the cursor is in a part, so that a fresh drawing can put it back. @param {HTMLElement} inside */
export function cursor(inside) {
  const field = document.activeElement;
  if (!inside.contains(field)) return null;
  const text = inField(field) && field.type === "text";
  return {
    id: field.id || null,
    ticket: field.dataset.ticket,
    value: text ? field.value : null,
    from: text ? field.selectionStart : 0,
    to: text ? field.selectionEnd : 0,
  };
}

/** @param {HTMLElement} inside */
export function putBack(inside, kept) {
  if (!kept) return;
  const named = kept.id && inside.querySelector(`#${CSS.escape(kept.id)}`);
  const field = named || (kept.ticket && inside.querySelector(`[data-ticket="${CSS.escape(kept.ticket)}"]`));
  if (!field) return;
  field.focus({ preventScroll: true });
  if (kept.value === null || field.type !== "text") return;
  field.value = kept.value;
  field.setSelectionRange(kept.from, kept.to);
}
