/**
 * Forms that enter something. Enter moves to the next field; behind the last one, or in a form of one field,
 * it sends. What is sent goes into the outbox first, and only then the fields are emptied.
 */
import { keep, settle } from "./drafts.js";

const FIELDS = "input[type=text]";

function put(body, name, value) {
  if (name.endsWith("[]")) (body[name.slice(0, -2)] ??= []).push(value);
  else if (name.includes(".")) {
    const [outer, inner] = name.split(".");
    body[outer] ??= {};
    if (value.trim() !== "") body[outer][inner] = value;
  } else body[name] = value;
}

/** What a form says, in the shape that the API takes. */
function bodyOf(form, pressed) {
  const body = {};
  for (const field of form.elements) {
    if (!field.name || field.type === "submit") continue;
    if (field.dataset.is === "tubes") body.tubes = field.checked ? 1 : 2;
    else put(body, field.name, field.value);
  }
  if (pressed?.name) body[pressed.name] = pressed.value;
  return body;
}

function fieldNamed(form, name, position) {
  const several = form.querySelectorAll(`[name="${name}[]"]`);
  return (
    form.querySelector(`[name="${name}.${position}"]`) ??
    several[Math.max(0, Number(position ?? 1) - 1)] ??
    form.querySelector(`[name="${name}"]`)
  );
}

/** Give back what was typed, where nothing else stands by now. */
function fill(form, values) {
  for (const field of form.querySelectorAll(FIELDS)) {
    if (field.value !== "") continue;
    const name = field.name;
    if (name.endsWith("[]")) {
      const all = [...form.querySelectorAll(`[name="${name}"]`)];
      field.value = values[name.slice(0, -2)]?.[all.indexOf(field)] ?? "";
    } else if (name.includes(".")) {
      const [outer, inner] = name.split(".");
      field.value = values[outer]?.[inner] ?? "";
    } else field.value = values[name] ?? "";
    keep(field);
  }
}

/**
 * Say at its field what is wrong, and keep what was typed; returns the first such field.
 * @param {HTMLFormElement} form
 */
export function showFaults(form, findings, values) {
  clearFaults(form);
  fill(form, values);
  const said = form.querySelector(".fault");
  said.textContent = findings.map((f) => `${f.wrong}. ${f.do}`.trim()).join(" ");
  said.hidden = false;
  said.id ||= `fault-${crypto.randomUUID()}`;
  let first = null;
  for (const { where } of findings) {
    const field = where?.field && fieldNamed(form, where.field, where.position);
    if (!field) continue;
    field.setAttribute("aria-invalid", "true");
    field.setAttribute("aria-describedby", said.id);
    first ??= field;
  }
  return first;
}

/** @param {HTMLFormElement} form */
export function clearFaults(form) {
  const said = form.querySelector(".fault");
  if (said) {
    said.hidden = true;
    said.textContent = "";
  }
  for (const field of form.querySelectorAll("[aria-invalid]")) field.removeAttribute("aria-invalid");
}

/** Enter goes on to the next field, Shift+Enter back; behind the last one the form is sent. */
function moveOn(event) {
  const form = event.target.form;
  if (event.key !== "Enter" || event.defaultPrevented) return;
  if (!form?.dataset.entry || !event.target.matches(FIELDS)) return;
  const fields = [...form.querySelectorAll(FIELDS)];
  const next = fields[fields.indexOf(event.target) + (event.shiftKey ? -1 : 1)];
  if (!next) return;
  event.preventDefault();
  next.focus();
  next.select();
}

/**
 * @param {import("./outbox.js").Outbox} outbox
 * @param {(form: HTMLFormElement) => void} onKept called when an entry is kept, not yet sent
 */
export function listenToForms(outbox, onKept) {
  document.addEventListener("input", (event) => keep(event.target));
  document.addEventListener("change", (event) => keep(event.target));
  document.addEventListener("keydown", moveOn);
  document.addEventListener("submit", async (event) => {
    const form = event.target;
    if (!form.dataset.entry) return;
    event.preventDefault();
    if (form.dataset.keeping) return; // a second Enter while the first is being kept
    form.dataset.keeping = "yes";
    try {
      const body = bodyOf(form, event.submitter);
      clearFaults(form);
      await outbox.add(form.dataset.entry, body);
      settle(form);
      onKept(form);
    } finally {
      delete form.dataset.keeping;
    }
  });
}
