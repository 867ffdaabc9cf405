/** Buttons that copy the text of the element whose id they name in data-copy. */
const SHOWN_MS = 2000;

/** @param {Document} root */
export function copying(root) {
  for (const button of root.querySelectorAll("[data-copy]")) {
    const words = button.textContent;
    button.addEventListener("click", async () => {
      const source = root.getElementById(button.dataset.copy);
      try {
        await navigator.clipboard.writeText(source.textContent.trim());
        button.textContent = button.dataset.copied;
      } catch {
        // No clipboard: select the line, so that the usual keys copy it.
        getSelection().selectAllChildren(source);
      }
      setTimeout(() => (button.textContent = words), SHOWN_MS);
    });
  }
}
