/**
 * What is typed and not sent yet, by the name in data-draft; and small choices of this computer, by the name
 * in data-remember. Both in the browser's own storage, so that a reload finds them.
 */
const DRAFT = "lodestarch draft ";
const CHOICE = "lodestarch choice ";

function read(key) {
  try {
    return localStorage.getItem(key);
  } catch {
    return null;
  }
}

function write(key, value) {
  try {
    if (value === null || value === "") localStorage.removeItem(key);
    else localStorage.setItem(key, value);
  } catch {
    /* private windows may keep nothing */
  }
}

/** Fill fields from their drafts, and choices from what was chosen last. @param {ParentNode} part */
export function restore(part) {
  for (const field of part.querySelectorAll("[data-draft]")) {
    const kept = read(DRAFT + field.dataset.draft);
    if (kept !== null) field.value = kept;
  }
  for (const field of part.querySelectorAll("[data-remember]")) {
    const kept = read(CHOICE + field.dataset.remember);
    if (kept === null) continue;
    if (field.type === "checkbox") field.checked = kept === "yes";
    else field.value = kept;
  }
}

/** @param {HTMLInputElement} field */
export function keep(field) {
  const { draft, remember } = field.dataset ?? {};
  if (draft) write(DRAFT + draft, field.value === field.defaultValue ? "" : field.value);
  if (remember) {
    write(CHOICE + remember, field.type === "checkbox" ? (field.checked ? "yes" : "no") : field.value);
  }
}

/** The drafts of a form are in the outbox now. @param {HTMLFormElement} form */
export function settle(form) {
  for (const field of form.querySelectorAll("[data-draft]")) write(DRAFT + field.dataset.draft, null);
}
