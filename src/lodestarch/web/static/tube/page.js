/**
 * The page Tube. The server draws everything once, for the moment the address names; this moves it through the
 * histories that /api/v1/tube gives for the same tubes, and asks anew when a field changes.
 *
 * - history.js: a history, read at a time     - picture.js: a tube set to a moment
 * - curves.js: cursor and figures             - clock.js: real and quick time
 * - fields.js: sliders beside the fields
 */
import { Clock } from "./clock.js";
import { Curves, state, values } from "./curves.js";
import { fields, renew } from "./fields.js";
import { History, STIRRING } from "./history.js";
import { Picture } from "./picture.js";

const TUBES = ["a", "b"];
const LIVE = ["title", "trust", "a", "b", "curves", "notes", "stills", "words", "limits"];
const STEP_S = 5;
const QUICK = 2; // above this a single stroke is too short to be seen

const find = (id) => document.getElementById(id);
const stage = find("stage");
const form = find("tubes");
const time = find("time");
const words = stage.dataset;
const still = matchMedia("(prefers-reduced-motion: reduce)");

let tubes = {};
let curves = null;

function speed() {
  return Number(find("speed").value);
}

function show(seconds) {
  stage.dataset.now = seconds.toFixed(3);
  find("clock").textContent = seconds.toFixed(0);
  time.value = seconds;
  const said = {};
  for (const [key, { history, picture, line, figure }] of Object.entries(tubes)) {
    const now = history.at(seconds);
    picture.draw(now);
    figure.classList.toggle("stirring", now.phase === STIRRING);
    said[key] = values(history, now);
    const text = state(history, now, words);
    if (line.textContent !== text) line.textContent = text;
  }
  curves?.draw(seconds, said, words);
  time.setAttribute("aria-valuetext", told(seconds));
}

/** The moment in words, for who hears the page. */
function told(seconds) {
  const lines = TUBES.map((key) => tubes[key]?.line.textContent ?? "\u2013");
  return words.said.replace("{seconds}", seconds.toFixed(0)).replace("{a}", lines[0]).replace("{b}", lines[1]);
}

const clock = new Clock(show, (playing) => {
  find("play").textContent = playing ? words.pause : words.play;
  stage.classList.toggle("quick", playing && clock.speed > QUICK);
  find("said").textContent = playing ? "" : told(clock.now);
});

/** The form as an address; the moment travels apart. */
function asked() {
  const said = new URLSearchParams(new FormData(form));
  said.delete("t");
  return said;
}

/** Take up the tubes that are on the page now. */
function take(answer) {
  tubes = {};
  for (const tube of answer.tubes) {
    const figure = find(`live-${tube.tube}`);
    const svg = figure.querySelector("svg.tube-cut");
    if (!tube.history || !svg) continue;
    tubes[tube.tube] = {
      history: new History(tube),
      picture: new Picture(svg),
      figure,
      line: figure.querySelector(".state"),
    };
  }
  clock.end = Math.max(0, ...Object.values(tubes).map(({ history }) => history.end));
  time.max = clock.end.toFixed(1);
  for (const id of ["play", "earlier", "later", "time"]) find(id).disabled = clock.end === 0;
  const section = find("live-curves");
  curves = section.querySelector("svg") ? new Curves(section, point) : null;
}

function point(seconds) {
  clock.pause();
  clock.seek(seconds);
}

let asking = false;
let again = false;

/** Ask for the tubes as the fields state them; while an answer is awaited the last wish waits. */
async function renewed() {
  again = asking;
  if (asking) return;
  asking = true;
  try {
    const said = asked();
    const [text, answer] = await Promise.all([
      fetch(`/tube?${said}&t=${clock.now.toFixed(1)}`).then((r) => r.text()),
      fetch(`/api/v1/tube?${said}`).then((r) => r.json()),
    ]);
    const fresh = new DOMParser().parseFromString(text, "text/html");
    const open = [...document.querySelectorAll(".table-of")].map((d) => d.open);
    for (const id of [...LIVE.map((name) => `live-${name}`)]) find(id).replaceWith(fresh.getElementById(id));
    for (const place of form.querySelectorAll(".finding")) place.replaceWith(fresh.getElementById(place.id));
    document.querySelectorAll(".table-of").forEach((d, i) => (d.open = open[i] ?? false));
    renew(form, fresh);
    const running = clock.playing;
    take(answer);
    clock.seek(clock.now);
    if (running) clock.play();
    find("changed")?.toggleAttribute("hidden", false);
    history.replaceState(null, "", `/tube?${said}`);
  } finally {
    asking = false;
    if (again) renewed();
  }
}

function wire() {
  for (const part of stage.querySelectorAll(".scripted")) part.hidden = false;
  form.querySelector(".run").hidden = true;
  find("play").addEventListener("click", () => {
    if (clock.playing) {
      clock.pause();
      return;
    }
    clock.speed = speed();
    if (clock.now >= clock.end) clock.seek(0);
    clock.play();
  });
  find("earlier").addEventListener("click", () => point(clock.now - STEP_S));
  find("later").addEventListener("click", () => point(clock.now + STEP_S));
  time.addEventListener("input", () => point(Number(time.value)));
  find("speed").addEventListener("change", () => {
    clock.speed = speed();
    stage.classList.toggle("quick", clock.playing && clock.speed > QUICK);
  });
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    renewed();
  });
  fields(form, renewed);
}

/** Play what the page is about: the whole run, or the step of a story. */
function perform() {
  clock.speed = speed();
  clock.seek(Number(words.start));
  clock.play(Number(words.stop));
}

async function open() {
  wire();
  const said = new URLSearchParams(location.search);
  const moment = said.get("t");
  said.delete("t");
  const answer = await fetch(`/api/v1/tube?${said}`).then((r) => r.json());
  take(answer);
  const repeat = find("again");
  if (repeat) {
    repeat.hidden = false;
    repeat.addEventListener("click", perform);
  }
  clock.seek(Number(words.moment));
  find("reduced").hidden = !still.matches;
  if (!still.matches && moment === null) perform();
  document.documentElement.dataset.tube = "ready";
}

open();
