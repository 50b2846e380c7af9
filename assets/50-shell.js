// Theme and place: the small part of the frame that lives in the browser.
(function () {
  "use strict";
  const system = window.matchMedia("(prefers-color-scheme: dark)");
  let choice = "auto";

  function shown() {
    return choice === "auto" ? (system.matches ? "dark" : "light") : choice;
  }

  function mark() {
    if (choice === "auto") {
      delete document.documentElement.dataset.theme;
    } else {
      document.documentElement.dataset.theme = choice;
    }
  }

  system.addEventListener("change", function () {
    if (choice === "auto") {
      window.dash_clientside.set_props("shell-provider", { forceColorScheme: shown() });
      window.dash_clientside.set_props("shell-theme", { data: shown() });
    }
  });

  function belongs(href, path) {
    return href === "/" ? path === "/" || path.startsWith("/engine/") : path.startsWith(href);
  }

  // "Chart as image": drawn and saved by the browser; nothing leaves it.
  document.addEventListener("click", function (event) {
    const button = event.target.closest("[data-chart]");
    const holder = button && document.getElementById(button.dataset.chart);
    const plot = holder && holder.querySelector(".js-plotly-plot");
    if (plot) {
      window.Plotly.downloadImage(plot, { format: "svg", filename: button.dataset.chart,
        width: plot.clientWidth, height: plot.clientHeight });
    }
  });

  let arrived = false;
  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    oiltrend: {
      theme: function (value) {
        choice = value === "light" || value === "dark" ? value : "auto";
        mark();
        return [shown(), shown()];
      },
      // Points to the page in the rail, moves the reader's place to it, and clears old notices.
      arrive: function (path) {
        document.querySelectorAll(".nav a").forEach(function (link) {
          if (belongs(link.getAttribute("href"), path || "/")) {
            link.setAttribute("aria-current", "page");
          } else {
            link.removeAttribute("aria-current");
          }
        });
        if (arrived) {
          window.scrollTo(0, 0);
          const main = document.getElementById("main");
          if (main) { main.focus({ preventScroll: true }); }
        }
        arrived = true;
        return null;
      }
    }
  });
})();

// Files: chosen or dropped, sent as they are, and the word for them handed to the page.
(function () {
  "use strict";

  function say(text) {
    window.dash_clientside.set_props("file-name", { children: text });
  }

  async function send(file, store) {
    say("Sending " + file.name + " …");
    const body = new FormData();
    body.append("file", file);
    let answer;
    let told = {};
    try {
      answer = await fetch("/api/upload", { method: "POST", body: body });
      told = await answer.json();
    } catch (fault) {
      told = {};
    }
    if (answer && answer.ok) {
      say(told.filename);
      window.dash_clientside.set_props(store, { data: told.token });
    } else {
      say(told.error || (answer && answer.status === 413
        ? file.name + " is too large; a file may have 14 MiB at most."
        : "The file could not be sent; is the program still running?"));
    }
  }

  document.addEventListener("click", function (event) {
    const button = event.target.closest("[data-choose]");
    if (!button) { return; }
    const field = document.createElement("input");
    field.type = "file";
    field.accept = ".csv,.tsv,.txt,text/csv,text/plain";
    field.addEventListener("change", function () {
      if (field.files.length) { send(field.files[0], button.dataset.choose); }
    });
    field.click();
  });

  document.addEventListener("dragover", function (event) {
    if (event.target.closest("[data-upload]")) { event.preventDefault(); }
  });
  document.addEventListener("drop", function (event) {
    const box = event.target.closest("[data-upload]");
    if (box && event.dataTransfer.files.length) {
      event.preventDefault();
      send(event.dataTransfer.files[0], box.dataset.upload);
    }
  });
})();
