/** The line that says what waits to be sent, and what was not taken, with what to do. */
export class Sending {
  /** @param {import("./outbox.js").Outbox} outbox */
  constructor(outbox) {
    this.outbox = outbox;
    this.box = document.getElementById("sending");
    this.words = this.box.dataset;
    this.note = "";
    this.asked = 0;
    outbox.addEventListener("change", () => this.show());
    this.show();
  }

  /** Say something until the next entry. */
  tell(text) {
    this.note = text;
    this.show();
  }

  async show() {
    const mine = ++this.asked;
    const entries = await this.outbox.list();
    if (mine !== this.asked) return;
    const waiting = entries.filter((e) => e.state === "waiting").length;
    const refused = entries.filter((e) => e.state === "refused");
    const parts = [];
    if (this.note) parts.push(this.note);
    // An entry on its way is not worth a word; one that could not be sent is.
    if (waiting && this.outbox.why) parts.push(this.counted("waits", waiting), this.words[this.outbox.why]);
    if (refused.length) parts.push(this.counted("refused", refused.length));
    this.box.hidden = parts.length === 0;
    this.box.querySelector(".say").textContent = parts.join(" ");
    this.box.querySelector("ul").replaceChildren(...refused.map((entry) => this.item(entry)));
    this.box.dataset.waiting = waiting;
  }

  counted(name, count) {
    const words = this.words[count === 1 ? `${name}One` : `${name}Many`];
    return words.replace("{count}", count);
  }

  item(entry) {
    const item = document.createElement("li");
    const said = entry.findings.map((f) => `${f.wrong}. ${f.do}`.trim()).join(" ");
    const typed = Object.entries(entry.body)
      .filter(([key, value]) => key !== "made_at" && value !== "")
      .map(([, value]) => (typeof value === "object" ? Object.values(value).join(" ") : value))
      .join(" · ");
    const where = decodeURIComponent(entry.path.replace(/^\/api\/v1\/(tickets\/)?/, "").replaceAll("/", " "));
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = this.words.drop;
    button.addEventListener("click", () => this.outbox.drop(entry.id));
    item.append(`${where}: ${typed}. ${said} `, button);
    return item;
  }
}
