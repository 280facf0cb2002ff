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
  function look() {
    if (document.hidden) return;
    fetch(keep.dataset.watch, { headers: { Accept: "application/json" } })
      .then(function (answer) { return answer.ok ? answer.json() : {}; })
      .then(function (found) {
        if (!found.newer) return;
        clearInterval(timer);
        var link = document.createElement("a");
        link.href = location.pathname;
        link.textContent = "Stale: a newer report has come. Show what changed";
        said.replaceChildren(link);
        said.hidden = false;
      })
      .catch(function () {});
  }
  var timer = setInterval(look, 130000);
  document.addEventListener("visibilitychange", look);
})();
