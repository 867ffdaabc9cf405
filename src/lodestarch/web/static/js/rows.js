/**
 * Up and down through the links of a register or a list: j and k, or the arrows. Focus moves, so that Enter
 * opens, Tab goes on from there, and a screen reader says what is met. The place is kept for the way back.
 */
const SELECTOR = "[data-rows] a[href]";

function remember(link) {
  try {
    sessionStorage.setItem(`row ${location.pathname}${location.search}`, link.getAttribute("href"));
  } catch {
    /* private windows may keep nothing */
  }
}

function recalled(links) {
  try {
    const href = sessionStorage.getItem(`row ${location.pathname}${location.search}`);
    return links.findIndex((link) => link.getAttribute("href") === href);
  } catch {
    return -1;
  }
}

/** @param {Document} root */
export function rows(root) {
  const links = [...root.querySelectorAll(SELECTOR)];
  if (links.length === 0) return {};

  function move(step) {
    const at = links.indexOf(root.activeElement);
    const from = at < 0 ? recalled(links) : at;
    const to = from < 0 ? (step > 0 ? 0 : links.length - 1) : from + (at < 0 ? 0 : step);
    const link = links[Math.min(Math.max(to, 0), links.length - 1)];
    link.focus({ preventScroll: true });
    link.scrollIntoView({ block: "nearest" });
    remember(link);
    return true;
  }

  for (const link of links) link.addEventListener("click", () => remember(link));
  const down = () => move(1);
  const up = () => move(-1);
  return { j: down, ArrowDown: down, k: up, ArrowUp: up };
}
