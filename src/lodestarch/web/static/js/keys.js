/**
 * Single keys and short sequences.
 *
 * An element says which keys press it: data-keys="g t" is g and then t, data-keys="j,ArrowRight" is either.
 * Fields take focus, links and buttons are clicked. Nothing acts inside a field, with Ctrl, Alt or Meta
 * held, or when somebody has switched single keys off; a scan is taken all the same.
 */
import { Burst } from "./scan.js";

const SEQUENCE_MS = 1500;

/** @param {Element | null} element */
export function inField(element) {
  return (
    element instanceof HTMLElement &&
    (element.isContentEditable || element.matches("input, textarea, select, [role=textbox]"))
  );
}

function shortcuts(root) {
  const found = new Map();
  for (const element of root.querySelectorAll("[data-keys]")) {
    for (const keys of element.dataset.keys.split(",")) found.set(keys, element);
  }
  return found;
}

function press(element) {
  if (inField(element)) {
    element.focus();
    element.select();
  } else {
    element.click();
  }
}

/**
 * @param {Record<string, () => boolean>} actions keys that a part of the page acts on; true where it did
 * @param {{ singleKeys: () => boolean }} choices
 */
export function listen(actions, choices) {
  let pressed = new Map();
  const popover = document.getElementById("keys");
  let pending = "";
  let timer = 0;

  function act(key) {
    pressed = shortcuts(document); // parts of a page come and go
    const sequence = pending ? `${pending} ${key}` : key;
    clearTimeout(timer);
    pending = "";
    if (actions[sequence]?.()) return true;
    const element = pressed.get(sequence);
    if (element) {
      press(element);
      return true;
    }
    if ([...pressed.keys()].some((keys) => keys.startsWith(`${sequence} `))) {
      pending = sequence;
      timer = setTimeout(() => (pending = ""), SEQUENCE_MS);
    }
    return false;
  }

  const burst = new Burst(
    (code) => {
      // A page that can open the code itself says so; otherwise the workbench knows where it leads.
      const scan = new CustomEvent("lodestarch-scan", { detail: code, cancelable: true });
      if (dispatchEvent(scan)) location.assign(`/go?code=${encodeURIComponent(code)}`);
    },
    (keys) => {
      // More than two keys at once without Enter are neither a shortcut nor a scan.
      if (keys.length <= 2 && choices.singleKeys()) keys.forEach(act);
    },
  );

  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.altKey || event.metaKey || event.isComposing) return;
    if (popover?.matches(":popover-open")) return; // Esc closes it by itself
    if (inField(event.target)) {
      if (event.key === "Escape") event.target.blur();
      return;
    }
    if (event.key === "Enter") {
      if (burst.take("Enter", event.timeStamp)) event.preventDefault();
    } else if (event.key.length > 1 || event.repeat) {
      // Named keys (arrows, Esc) are never part of a code; a held key moves on at once.
      if (choices.singleKeys() && act(event.key)) event.preventDefault();
    } else if (event.key !== " ") {
      if (event.key === "/" || event.key === "'") event.preventDefault(); // the browser's own quick search
      burst.take(event.key, event.timeStamp);
    }
  });
}
