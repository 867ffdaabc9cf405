/**
 * Plan and Bins. What follows from the entries (data-part) is drawn anew when one is taken, and from time to
 * time where a page asks for that (data-every); what is being typed stays, with the cursor where it was.
 *
 * - ../bench/outbox.js, forms.js, drafts.js: entries that wait to be sent, taken once; what is typed and kept
 * - ../bench/parts.js: drawing a part anew under a hand that types
 * - pieces.js: a part that lies in several places of the page
 * - matrix.js: cells of the allocation
 */
import { keep, restore } from "../bench/drafts.js";
import { listenToForms, showFaults } from "../bench/forms.js";
import { Outbox } from "../bench/outbox.js";
import { cursor, part, putBack } from "../bench/parts.js";
import { Sending } from "../bench/sending.js";
import { Matrix } from "./matrix.js";
import { putPieces } from "./pieces.js";

const LARGEST_FILE = 2_000_000;

const outbox = new Outbox();
new Sending(outbox);
const now = document.querySelector("[data-part]");
const answer = document.querySelector("[data-answer]");
const matrix = answer && new Matrix(answer, outbox);
let asked = 0;
let drawn = "";

function formOf(entry) {
  return document.querySelector(`form[data-entry="${CSS.escape(entry.path)}"]`);
}

/**
 * Draw what follows from the entries. Looking from time to time waits while something that was not taken is
 * still told at its field. A hand whose row is gone goes back to where the next entry begins.
 */
async function draw({ looking = false } = {}) {
  if (!now || (looking && now.querySelector(".fault:not([hidden])"))) return;
  const mine = ++asked;
  const got = await part(now.dataset.part);
  if (!got?.found || mine !== asked || got.html === drawn) return;
  const kept = cursor(now);
  putPieces(now, got.html);
  drawn = got.html;
  restore(now);
  putBack(now, kept);
  if (kept && document.activeElement === document.body) now.querySelector(".entries input")?.focus();
}

/** An entry is kept, not yet sent: empty its fields, and the hand goes back to the first. */
function onKept(form) {
  for (const field of form.querySelectorAll("input[type=text]:not([data-stays])")) field.value = "";
  const next = form.dataset.next && document.getElementById(form.dataset.next);
  next?.focus();
}

/** A file that was chosen is put into the text beneath it, so that what is sent can be seen. */
async function onFile(event) {
  const field = event.target;
  if (!field.dataset?.into || !field.files?.length) return;
  const [file] = field.files;
  const text = document.getElementById(field.dataset.into);
  if (file.size > LARGEST_FILE) return;
  text.value = await file.text();
  field.form.elements.name.value = file.name.slice(0, 200);
  keep(text);
}

const LEADS_ELSEWHERE = /\/(plan\/receive\/(site|mode)|plan\/loadout\/cargo|plan\/allocate\/(problem|time))$/;

outbox.addEventListener("taken", async ({ detail: { entry } }) => {
  if (matrix?.taken(entry)) return;
  const form = formOf(entry);
  if (form && (LEADS_ELSEWHERE.test(entry.path) || "reload" in form.dataset)) location.reload();
  else await draw();
});

outbox.addEventListener("refused", async ({ detail: { entry, answer: said } }) => {
  if (await matrix?.refused(entry, said)) return;
  const form = formOf(entry);
  if (!form) return;
  const field = showFaults(form, said.findings, entry.body);
  for (const text of form.querySelectorAll("textarea[name]")) {
    if (text.value === "") text.value = entry.body[text.name] ?? "";
    const wrong = said.findings.some((f) => f.where?.field === text.dataset.field || !f.where?.field);
    if (wrong) text.setAttribute("aria-invalid", "true");
  }
  await outbox.drop(entry.id);
  field?.focus();
});

listenToForms(outbox, onKept);
document.addEventListener("change", onFile);
restore(document);
outbox.soon(0);
if (now?.dataset.every) setInterval(() => document.hidden || draw({ looking: true }), Number(now.dataset.every));
