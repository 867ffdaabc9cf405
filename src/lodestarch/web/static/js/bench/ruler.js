/** The typed mass on the ruler of the mass wanted, while it is typed. */
function show(field) {
  if (field.dataset?.kind !== "mass" || field.name !== "mass_g") return;
  const ruler = field.closest(".step")?.querySelector(".ruler");
  if (!ruler) return;
  const mark = ruler.querySelector(".typed");
  const said = ruler.querySelector(".ruler-said");
  const mass = Number(field.value.replace(",", ".").trim() || "NaN");
  const { from, to, low, high } = ruler.dataset;
  mark.setAttribute("visibility", Number.isFinite(mass) ? "visible" : "hidden");
  said.textContent = "";
  if (!Number.isFinite(mass)) return;
  const place = `${Math.min(100, Math.max(0, (100 * (mass - from)) / (to - from)))}%`;
  mark.setAttribute("x1", place);
  mark.setAttribute("x2", place);
  const off = mass < Number(low) ? mass - Number(low) : mass > Number(high) ? mass - Number(high) : 0;
  mark.classList.toggle("off", off !== 0);
  const words = off === 0 ? ruler.dataset.in : off > 0 ? ruler.dataset.over : ruler.dataset.under;
  said.textContent = words.replace("{mass}", Math.abs(off).toFixed(2));
}

/** @param {Document} root */
export function listenToMasses(root) {
  root.addEventListener("input", (event) => show(event.target));
  root.addEventListener("focusin", (event) => show(event.target));
}
