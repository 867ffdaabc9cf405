/**
 * The Bench page. The left half is asked for anew as work goes on; the right half only when its own ticket
 * changed, and then what is being typed there stays, with the cursor where it was.
 *
 * - outbox.js: entries that wait to be sent, each taken once
 * - forms.js, drafts.js: what is typed, and what is kept of it
 * - pace.js: scanners and balances inside fields
 * - parts.js: drawing a half anew under a hand that types
 * - counts.js, ruler.js, sending.js: the counts, the mass ruler, the line about what waits
 */
import { copying } from "../copy.js";
import { inField } from "../keys.js";
import { Counts } from "./counts.js";
import { restore } from "./drafts.js";
import { listenToForms, showFaults } from "./forms.js";
import { Outbox } from "./outbox.js";
import { Pace } from "./pace.js";
import { cursor, part, putBack } from "./parts.js";
import { listenToMasses } from "./ruler.js";
import { Sending } from "./sending.js";

const EVERY_MS = 5000;
const FIRST = { grind: "ground-mass", moisture: "moisture", weigh: "mass-1", bath: "seconds-1" };

const lanes = document.getElementById("lanes");
const panel = document.getElementById("ticket");
const outbox = new Outbox();
const sending = new Sending(outbox);
const counts = new Counts(() => drawLanes());
let asked = 0;

function now() {
  return lanes.querySelector(".now").dataset;
}

async function drawLanes() {
  const mine = ++asked;
  const answer = await part(lanes.dataset.part);
  if (!answer?.found || mine !== asked) return; // a later question has its answer already
  const kept = cursor(lanes);
  lanes.innerHTML = answer.html;
  putBack(lanes, kept);
  counts.learn(now().at);
}

/** The field that the hand wants next: the first empty one of the step that the ticket is at. */
function firstField() {
  const station = panel.querySelector("[data-code]")?.dataset.station;
  const named = station in FIRST && document.getElementById(FIRST[station]);
  if (named && named.value === "") return named;
  // A result waits for a decision: the cursor goes where a stray Enter does nothing.
  if (station === "judge" || station === "released") return document.getElementById("mass-1") ?? document.getElementById("open-title");
  const kinds = station === "weigh" ? "input[data-kind=mass]" : ".step input[type=text]";
  const fields = [...panel.querySelectorAll(kinds)].filter((field) => !field.closest("details"));
  return fields.find((field) => field.value === "") ?? panel.querySelector(".lower button, .step button");
}

async function draw(code, { focus }) {
  const answer = await part(`/bench/tickets/${encodeURIComponent(code)}`);
  if (!answer) return;
  const kept = cursor(panel);
  panel.innerHTML = answer.html;
  restore(panel);
  copying(panel);
  const found = panel.querySelector("[data-code]");
  panel.dataset.open = found?.dataset.code ?? "";
  if (focus) firstField()?.focus();
  else putBack(panel, kept);
  const address = found ? `/bench?ticket=${encodeURIComponent(found.dataset.code)}` : "/bench";
  history.replaceState(null, "", address);
}

/** Somebody is in the middle of typing something that is not sent yet. */
function isTyping(except) {
  const field = document.activeElement;
  return inField(field) && field.type === "text" && field.value !== field.defaultValue && !except?.contains(field);
}

function scanned(code) {
  if (!now().codes.split(" ").includes(code)) return false;
  draw(code, { focus: !isTyping() });
  return true;
}

function strange(text) {
  const words = /[.,]/.test(text) ? sending.words.balanceHere : sending.words.notKnown;
  sending.tell(words.replace("{code}", text).replace("{text}", text));
}

/** An entry is kept: empty its fields where the form stays, and move the hand on. */
function onKept(form) {
  sending.tell("");
  if (form.dataset.next) {
    for (const field of form.querySelectorAll("input[type=text]")) field.value = "";
    document.getElementById(form.dataset.next).focus();
  } else if (form.querySelector("#mass-1")) {
    const second = document.getElementById("mass-2");
    second?.focus();
    second?.select();
  }
}

function formOf(entry) {
  const forms = [...document.querySelectorAll(`form[data-entry="${CSS.escape(entry.path)}"]`)];
  const same = (form, name) => !form.elements[name] || form.elements[name].value === entry.body[name];
  return forms.find((form) => same(form, "position") && same(form, "run"));
}

async function onTaken({ detail: { entry } }) {
  const about = /^\/api\/v1\/tickets\/([^/]+)\//.exec(entry.path)?.[1];
  const typing = isTyping(formOf(entry));
  const inSecond = document.activeElement?.id === "mass-2" && entry.body.position === "1";
  if (entry.path === "/api/v1/tickets") await draw(entry.body.ticket.trim(), { focus: !typing });
  else if (about && decodeURIComponent(about) === panel.dataset.open) {
    const here = panel.contains(document.activeElement) || document.activeElement === document.body;
    await draw(panel.dataset.open, { focus: here && !typing && !inSecond });
  } else if (!about && panel.dataset.open) await draw(panel.dataset.open, { focus: false });
  await drawLanes();
}

async function onRefused({ detail: { entry, answer } }) {
  const form = formOf(entry);
  // Where something else is being typed by now, the refused entry stays in the list on top.
  const busy = form && [...form.querySelectorAll("input[type=text]")].some((f) => f.value !== f.defaultValue);
  if (!form || (busy && form.dataset.next)) return;
  const field = showFaults(form, answer.findings, entry.body);
  await outbox.drop(entry.id);
  if (field && !isTyping(form)) {
    field.focus();
    field.select?.();
  }
}

function onClick(event) {
  const link = event.target.closest("a[data-ticket], a[data-close]");
  if (!link || event.ctrlKey || event.metaKey || event.shiftKey || event.button !== 0) return;
  event.preventDefault();
  draw(link.dataset.ticket ?? ".", { focus: Boolean(link.dataset.ticket) });
}

function onGo(event) {
  const field = document.getElementById("code");
  if (!scanned(field.value.trim())) return;
  event.preventDefault();
  field.value = "";
}

new Pace(scanned, strange);
listenToForms(outbox, onKept);
listenToMasses(document);
outbox.addEventListener("taken", onTaken);
outbox.addEventListener("refused", onRefused);
document.addEventListener("click", onClick);
document.querySelector("form.go").addEventListener("submit", onGo);
addEventListener("lodestarch-scan", (event) => scanned(event.detail) && event.preventDefault());

restore(document);
counts.learn(now().at);
setInterval(() => document.hidden || drawLanes(), EVERY_MS);
outbox.soon(0);
if (!inField(document.activeElement)) {
  (panel.dataset.open ? firstField() : document.getElementById("quick-ticket"))?.focus({ preventScroll: true });
}
