/**
 * Sliders beside the fields. A slider writes into its field, as somebody would type; the field alone is sent.
 * Enzyme and place can be stated in several ways: the choice rewrites both fields by what the server says is
 * the same.
 */
const NUMBER = /[+-]?\d+(?:[.,]\d+)?/;

/** Which way a text states its field: the one whose pattern it fits. */
function wayOf(select, text) {
  const fits = (option) => {
    const [before, after] = option.dataset.pattern.split("{v}").map((part) => part.trim().toLowerCase());
    const said = text.trim().toLowerCase();
    return said.startsWith(before) && said.endsWith(after) && NUMBER.test(said);
  };
  return [...select.options].find(fits);
}

function fit(slider, option) {
  const { min, max, step, digits, pattern } = option.dataset;
  Object.assign(slider, { min, max, step });
  Object.assign(slider.dataset, { digits, pattern });
}

/** Put the slider where its field says. */
function follow(slider, field) {
  const match = field.value.match(NUMBER);
  if (match) slider.value = match[0].replace(",", ".");
  slider.setAttribute("aria-valuetext", field.value);
}

/** @param {HTMLFormElement} form @param {() => void} changed hears of every change */
export function fields(form, changed) {
  for (const part of form.querySelectorAll(".scripted")) part.hidden = false;
  const sliders = [...form.querySelectorAll("[data-for]")];
  const fieldOf = (slider) => form.elements[slider.dataset.for];

  for (const select of form.querySelectorAll("[data-ways]")) {
    const own = sliders.filter((slider) => slider.dataset.for.endsWith(`_${select.dataset.ways}`));
    const settle = () => {
      for (const slider of own) {
        const way = wayOf(select, fieldOf(slider).value);
        if (way) fit(slider, way);
      }
      const way = wayOf(select, fieldOf(own[0]).value);
      if (way) select.value = way.value;
    };
    settle();
    select.addEventListener("change", () => {
      for (const slider of own) {
        const field = fieldOf(slider);
        field.value = field.dataset[select.value] ?? field.value;
        fit(slider, select.selectedOptions[0]);
        follow(slider, field);
      }
      changed();
    });
    for (const slider of own) fieldOf(slider).addEventListener("change", settle);
  }
  for (const slider of sliders) {
    const field = fieldOf(slider);
    follow(slider, field);
    slider.addEventListener("input", () => {
      const value = Number(slider.value).toFixed(Number(slider.dataset.digits));
      field.value = slider.dataset.pattern.replace("{v}", value);
      slider.setAttribute("aria-valuetext", field.value);
      changed();
    });
    field.addEventListener("change", () => {
      follow(slider, field);
      changed();
    });
  }
}

/** Take from a fresh copy of the page what is said of each field; what is being typed stays. */
export function renew(form, fresh) {
  for (const field of form.querySelectorAll("input[type=text]")) {
    const other = fresh.getElementById(field.id);
    if (!other) continue;
    for (const name of ["share", "ln", "reads", "m", "hpa"]) {
      if (other.dataset[name]) field.dataset[name] = other.dataset[name];
    }
    field.toggleAttribute("aria-invalid", false);
    if (other.getAttribute("aria-invalid")) field.setAttribute("aria-invalid", "true");
  }
}
