// Counts on by itself, asks for the board anew, and says since when nothing was heard.
(function () {
  "use strict";
  var lost = null;
  function wall() { return document.getElementById("wall"); }
  function two(number) { return String(number).padStart(2, "0"); }
  function clock(date) { return two(date.getUTCHours()) + two(date.getUTCMinutes()) + "Z"; }
  function long(number) { return number < 120 ? number + " min" : Math.floor(number / 60) + " h " + two(number % 60) + " min"; }
  function tick() {
    var now = new Date();
    wall().querySelector('[data-part="clock"]').textContent = clock(now);
    wall().querySelectorAll("tr[data-call]").forEach(function (row) {
      var left = Math.floor((Date.parse(row.dataset.call) - now) / 60000);
      // a plan made for another day keeps the minutes that the server gave
      if (Math.abs(left) > 48 * 60) return;
      row.querySelector('[data-part="left"]').textContent = left < 0 ? "late by " + long(-left) : long(left) + " left";
      row.classList.toggle("late", left < 0);
      row.querySelector(".mark").textContent = left < 0 ? "!" : "–";
    });
    var said = wall().querySelector('[data-part="lost"]');
    said.hidden = lost === null;
    if (lost !== null) said.textContent = "No connection since " + clock(lost);
  }
  function ask() {
    fetch(location.href).then(function (answer) {
      if (!answer.ok) throw new Error(answer.status);
      return answer.text();
    }).then(function (body) {
      var there = new DOMParser().parseFromString(body, "text/html").getElementById("wall");
      if (!there) throw new Error("no board");
      wall().replaceWith(there);
      lost = null;
      tick();
    }).catch(function () {
      if (lost === null) lost = new Date();
      tick();
    });
  }
  tick();
  setInterval(tick, 5000);
  setInterval(ask, 20000);
})();
