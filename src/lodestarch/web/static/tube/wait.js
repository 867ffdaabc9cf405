/** Opens the page of the tube as soon as the model answers; until then asks every other second. */
const EVERY_MS = 2000;

async function ask() {
  try {
    const answer = await fetch("/api/v1/tube", { method: "HEAD" });
    if (answer.status !== 503) {
      location.reload();
      return;
    }
  } catch {
    /* the workbench was closed: ask again, it may come back */
  }
  setTimeout(ask, EVERY_MS);
}

setTimeout(ask, EVERY_MS);
