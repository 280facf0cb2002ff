// Only adds to pages that work without it.
(function () {
  "use strict";
  var keep = document.querySelector("[data-watch]");
  if (!keep) return;
  var said = document.createElement("p");
  said.className = "stale";
  said.setAttribute("role", "status");
  said.hidden = true;
  document.querySelector(".first header").after(said);
  // by sound only where the person asked for it on this page
  var context = null;
  var ask = document.createElement("button");
  ask.type = "button";
  ask.textContent = "Sound when something changes";
  ask.setAttribute("aria-pressed", "false");
  ask.addEventListener("click", function () {
    context = context ? null : new AudioContext();
    ask.setAttribute("aria-pressed", context ? "true" : "false");
    sound();
  });
  keep.append(ask);
  function sound() {
    if (!context) return;
    [0, 0.3].forEach(function (at) {
      var tone = context.createOscillator();
      tone.frequency.value = 660;
      tone.connect(context.destination);
      tone.start(context.currentTime + at);
      tone.stop(context.currentTime + at + 0.15);
    });
  }
  function look() {
    if (document.hidden) return;
    fetch(keep.dataset.watch, { headers: { Accept: "application/json" } })
      .then(function (answer) { return answer.ok ? answer.json() : {}; })
      .then(function (found) {
        if (!found.newer) return;
        var changed = (found.said || []).slice(0, 3).join(". ");
        var text = "Stale: a newer report has come. " + (changed ? changed + ". " : "") + "Show what changed";
        if (said.textContent === text) return;
        var link = document.createElement("a");
        link.href = location.pathname;
        link.textContent = text;
        said.replaceChildren(link);
        said.hidden = false;
        if (changed) sound();
      })
      .catch(function () {});
  }
  setInterval(look, 60000);
  document.addEventListener("visibilitychange", look);
})();
