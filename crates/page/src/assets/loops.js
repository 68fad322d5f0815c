"use strict";
// "Play the click" of a practice loop: one at a time, stopped by the same button.
(() => {
  let sounding = null;
  const quiet = () => {
    if (!sounding) return;
    sounding.audio.pause();
    sounding.button.textContent = sounding.words;
    sounding = null;
  };
  document.querySelectorAll("button[data-click]").forEach((button) => {
    const said = button.parentElement.querySelector("[role=status]"), words = button.textContent;
    button.addEventListener("click", () => {
      const own = sounding?.button === button;
      quiet();
      said.textContent = "";
      if (own) return;
      const audio = new Audio(button.dataset.click);
      const failed = () => { if (sounding?.audio === audio) { quiet(); said.textContent = "The click cannot be played. Is the program still running?"; } };
      sounding = { audio, button, words };
      button.textContent = "Stop the click";
      audio.addEventListener("ended", quiet);
      audio.addEventListener("error", failed);
      audio.play().catch(failed);
    });
  });
})();
