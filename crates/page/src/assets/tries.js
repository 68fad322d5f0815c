// The list of tries: how far each is, keeping it, throwing it away, copying what was found as a message.

const $ = (id) => document.getElementById(id);
const token = document.querySelector("meta[name=token]").content;

/** The sentence in an error page. */
const sentence = (html) => new DOMParser().parseFromString(html, "text/html").querySelector("main p")?.textContent ?? "It did not work.";

/** A POST as this page's forms send it; the answer, or an error with the sentence that the server says. */
async function post(address, body) {
  const answer = await fetch(address, { method: "POST", body, headers: { "x-takegauge-token": token } });
  if (!answer.ok) throw new Error(sentence(await answer.text()));
  return answer;
}

class Tries {
  constructor(list) {
    this.list = list;
    list.addEventListener("click", (e) => {
      const button = e.target.closest("[data-do]");
      if (button) this.act(button.closest("li"), button);
    });
    for (const row of list.children) this.follow(row.dataset.number);
  }

  row(number) { return $("try-" + number); }

  /** Shows a try as the server has it now. The row that is in use keeps its focus. */
  async show(number) {
    const answer = await fetch(`/results/${number}/try`);
    const old = this.row(number);
    if (answer.status === 404) { old?.remove(); this.count(); return null; }
    if (!answer.ok) throw new Error(sentence(await answer.text()));
    const row = new DOMParser().parseFromString(await answer.text(), "text/html").querySelector("li");
    const inside = old?.contains(document.activeElement);
    if (old) old.replaceWith(row); else this.list.prepend(row);
    if (inside) row.querySelector("a, button")?.focus();
    this.count();
    return row;
  }

  /** Shows it until it is scored; resolves to its row. */
  async follow(number) {
    for (;;) {
      let row;
      try { row = await this.show(number); } catch { row = this.row(number); }
      if (!row || row.hasAttribute("data-over")) return row;
      await new Promise((later) => setTimeout(later, 400));
    }
  }

  count() { $("no-tries").hidden = this.list.children.length > 0; }

  async act(row, button) {
    const number = row.dataset.number, said = row.querySelector("[role=status]");
    const say = (text, wrong) => { said.textContent = text; said.classList.toggle("wrong", Boolean(wrong)); };
    button.disabled = true;
    try {
      if (button.dataset.do === "copy") {
        await navigator.clipboard.writeText(row.querySelector(".message").textContent);
        say("Copied.");
      } else if (button.dataset.do === "keep") {
        const player = $("keeping").elements.player;
        if (!player.value.trim()) { player.focus(); throw new Error("Whose playing is it? Write the player's name above, then keep it."); }
        await post(`/results/${number}/keep`, new URLSearchParams(new FormData($("keeping"))));
        await this.show(number);
        this.row(number)?.querySelector("a[href^='/takes/']")?.focus();
      } else {
        const next = row.nextElementSibling ?? row.previousElementSibling;
        await post(`/results/${number}/throw-away`);
        row.remove();
        this.count();
        (next?.querySelector("a, button") ?? $("go")).focus();
      }
    } catch (e) {
      say(e.message, true);
    } finally {
      button.disabled = false;
    }
  }
}
