/**
 * Pages of the office that enter something: the same outbox as the bench, and the page drawn anew by the
 * workbench once its entry is taken. What is typed and not sent survives a reload.
 */
import { restore } from "./drafts.js";
import { listenToForms, showFaults } from "./forms.js";
import { Outbox } from "./outbox.js";
import { Sending } from "./sending.js";

const outbox = new Outbox();
new Sending(outbox);

function formOf(entry) {
  const forms = [...document.querySelectorAll(`form[data-entry="${CSS.escape(entry.path)}"]`)];
  return forms.find((form) => form.elements.key?.value === entry.body.key) ?? forms[0];
}

listenToForms(outbox, (form) => {
  for (const field of form.querySelectorAll("input[type=text]")) field.value = "";
});

outbox.addEventListener("taken", ({ detail: { entry } }) => {
  if (formOf(entry)) location.reload();
});

outbox.addEventListener("refused", async ({ detail: { entry, answer } }) => {
  const form = formOf(entry);
  if (!form) return;
  const field = showFaults(form, answer.findings, entry.body);
  await outbox.drop(entry.id);
  field?.focus();
});

restore(document);
outbox.soon(0);
