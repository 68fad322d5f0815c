"use strict";
// Follows the scoring of a take, then shows its report at the same address.
(() => {
  const bar = document.getElementById("share"), said = document.getElementById("said");
  async function look() {
    try {
      const answer = await fetch(bar.dataset.state);
      if (!answer.ok) return location.reload();
      const { over, share, before } = await answer.json();
      bar.value = share;
      said.textContent = share > 0 ? `${Math.round(share * 100)} % done.` : before > 0 ? `Waiting for its turn; ${before} before it.` : "Waiting for its turn.";
      if (over) return location.reload();
    } catch {
      said.textContent = "The program does not answer. Is it still running?";
    }
    setTimeout(look, 300);
  }
  look();
})();
