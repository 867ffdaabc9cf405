/**
 * What this computer remembers. Single keys: on or off, in the browser's own storage. Light or dark: in a
 * cookie, because the server writes it into the page, which then never flashes in the other face.
 */
const KEY = "lodestarch single keys";
const COOKIE = "lodestarch_face";
const YEAR_S = 365 * 24 * 3600;

function stored() {
  try {
    return localStorage.getItem(KEY);
  } catch {
    return null;
  }
}

function store(value) {
  try {
    localStorage.setItem(KEY, value);
  } catch {
    /* private windows may keep nothing */
  }
}

/** @param {Document} root */
export function choices(root) {
  const single = root.getElementById("single-keys");
  let on = stored() !== "off";
  if (single) {
    single.checked = on;
    single.addEventListener("change", () => {
      on = single.checked;
      store(on ? "on" : "off");
    });
  }
  for (const choice of root.querySelectorAll("input[name=face]")) {
    choice.addEventListener("change", () => {
      root.documentElement.dataset.face = choice.value;
      root.cookie = `${COOKIE}=${choice.value}; Path=/; Max-Age=${YEAR_S}; SameSite=Strict`;
    });
  }
  return { singleKeys: () => on };
}
